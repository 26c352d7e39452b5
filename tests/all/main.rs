//! Every integration test, one binary: linking once keeps the run short.

mod cli_home;
mod cli_transcripts;
mod module_order;
mod no_forgotten_test;
mod readme;
mod source_folder;
mod source_handheld;
mod reader_rates;
