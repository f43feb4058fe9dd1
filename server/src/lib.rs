//! The Handcall server: store, pages, exports and batches around the pure `analysis` library.

pub mod access;
pub mod app;
pub mod batch;
pub mod charts;
pub mod command;
pub mod compress;
pub mod config;
pub mod demo;
pub mod draft_options;
pub mod error;
pub mod export;
pub mod facts;
pub mod headers;
pub mod import;
pub mod job;
pub mod keep;
pub mod lay;
pub mod live;
pub mod pages;
pub mod person;
pub mod routes;
pub mod serve;
pub mod size_report;
pub mod store;
pub mod words;
