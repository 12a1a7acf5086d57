//! The ledger: judgments, standings, outputs and letters in SQLite.
