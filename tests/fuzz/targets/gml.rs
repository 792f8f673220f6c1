#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| twinsow_fuzz::readers::gml(bytes));
