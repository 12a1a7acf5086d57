//! The command line: parse, call in, map the outcome to an exit status.

fn main() {}
