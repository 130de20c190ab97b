//! Any bytes on a connection of the front door, and never a panic.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| frontdoor::fuzz(bytes));
