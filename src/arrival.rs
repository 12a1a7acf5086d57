//! Arrivals: what lies in an exports folder, from events and scans. The scan is the truth, events only make it early.
