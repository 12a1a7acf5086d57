//! Mending: inside the mask only, and proven before anyone sees it.
