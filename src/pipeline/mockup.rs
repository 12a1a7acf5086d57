//! Pictures for people: the repeat picture, the strike-off and the held picture.
