//! Every integration test, one binary: linking once keeps the run short.
