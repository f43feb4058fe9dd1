#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| handcall_tests::fuzzing::roster(bytes));
