//! Every integration test, one binary: linking once keeps the run short.
#![allow(clippy::unwrap_used, reason = "a test that can't go on has failed")]

mod cli_home;
mod cli_transcripts;
mod code_bars;
mod code_check_digits;
mod code_corrections;
mod code_reference;
mod code_typed;
mod intake_states;
mod meaning_digits;
mod module_order;
mod no_forgotten_test;
mod reader_rates;
mod readme;
mod source_folder;
mod source_handheld;
mod workflow_import;
mod workflow_main_path;
mod workflow_support;
