//! The `handcall` command.

fn main() {}
