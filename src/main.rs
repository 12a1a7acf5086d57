//! The command line: parse, start logging, call in, map the outcome to an exit status.

use burler::cli;
use clap::Parser;
use std::io::IsTerminal;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = cli::Arguments::parse();
    tracing_subscriber::fmt()
        .with_writer(std::io::stderr)
        .with_ansi(std::io::stderr().is_terminal())
        .with_target(false)
        .with_env_filter(
            tracing_subscriber::EnvFilter::try_from_env("BURLER_LOG")
                .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("error,burler=info")),
        )
        .init();
    match cli::run(arguments) {
        Ok(status) => status.into(),
        Err(failure) => {
            cli::plain::tell(&failure);
            failure.status.into()
        }
    }
}
