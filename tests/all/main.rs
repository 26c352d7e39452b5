//! Every integration test, one binary: linking once keeps the run short.
#![allow(clippy::unwrap_used, reason = "a test that can't go on has failed")]
#![allow(clippy::print_stdout, reason = "a test that is skipped says so")]

#[path = "../fuzz/mod.rs"]
mod fuzz;
#[path = "../render/mod.rs"]
mod render;
#[path = "../simulated/mod.rs"]
mod simulated;
#[path = "../stack/mod.rs"]
mod stack;

mod bombs;
mod browser;
mod cli_backup;
mod cli_explain;
mod cli_home;
mod cli_hostile;
mod cli_import;
mod cli_outputs;
mod cli_private;
mod cli_transcripts;
mod code_bars;
mod code_check_digits;
mod code_corrections;
mod code_reference;
mod code_typed;
mod desk_browser;
mod desk_collection;
mod desk_copy;
mod desk_guard;
mod desk_intake;
mod desk_money;
mod desk_phone;
mod desk_photos;
mod desk_pile;
mod desk_preview;
mod desk_queue;
mod desk_settings;
mod desk_support;
mod desk_wall;
mod faults;
mod faults_damage;
mod faults_kill;
mod faults_machine;
mod filing_optimum;
mod filing_order;
mod filing_plan;
mod filing_year;
mod fuzz_targets;
mod intake_presentations;
mod intake_states;
mod life;
mod list_files;
mod meaning_digits;
mod module_order;
mod no_forgotten_test;
mod picture_formats;
mod reader_fuzz;
mod reader_rates;
mod reader_simulated;
mod readme;
mod render_camera;
mod render_classes;
mod render_picture;
mod render_stack;
mod render_symbol;
mod report_pocket;
mod resolve_answers;
mod resolve_decisions;
mod report_pages;
mod scan_replay;
mod scan_terminal;
mod source_camera;
mod source_folder;
mod source_handheld;
mod store_export;
mod store_file;
mod store_undo;
mod workflow_catalogue;
mod workflow_backup;
mod workflow_copies;
mod workflow_filing;
mod workflow_have;
mod workflow_import;
mod workflow_invariants;
mod workflow_lists;
mod workflow_main_path;
mod workflow_needs;
mod workflow_pile;
mod workflow_pull;
mod workflow_session;
mod workflow_shelf;
mod workflow_sitting;
mod workflow_spend;
mod workflow_support;
