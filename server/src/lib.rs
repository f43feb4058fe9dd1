//! The Handcall server: store, pages, exports and batches around the pure `analysis` library.

pub mod export;
pub mod keep;
pub mod store;
