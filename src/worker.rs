//! The worker: the pipeline in an expendable process under limits on memory, processor and time.
//!
//! A damaged file can at worst end that process. Takes a read-only descriptor of the original and an order, yields the
//! ticket and the files the pipeline made in a scratch folder. Knows nothing of the ledger or of where files go.

pub mod job;
pub mod frame;
pub mod products;
pub mod client;
pub mod serve;
