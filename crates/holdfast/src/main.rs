//! The command line. It reads files and the clock, asks `voyage`, and prints; it reasons about
//! nothing itself.

mod args;
mod cmd;
mod fail;
mod files;
mod help;
mod json;
mod out;
mod progress;

use std::process::ExitCode;

use args::{Command, Invocation};
use fail::Fail;

fn main() -> ExitCode {
    let code = match args::parse(std::env::args_os()) {
        Ok(Invocation::Help(text)) => out::print(text).map(|()| 0),
        Ok(Invocation::Run(command)) => run(&command),
        Err(e) => Err(e),
    };
    match code {
        Ok(code) => ExitCode::from(code),
        Err(e) => {
            out::complain(&e);
            ExitCode::from(e.code)
        }
    }
}

/// Runs a command; the number is the exit status.
fn run(command: &Command) -> Result<u8, Fail> {
    match command {
        Command::Load(c) => cmd::load::run(c),
        Command::Take(c) => cmd::take::run(c),
        Command::Watch(c) => cmd::watch::run(c),
        Command::Box(c) => cmd::one_box::run(c),
        Command::Note(c) => cmd::note::run(c),
        Command::Log(c) => cmd::log::run(c),
        Command::Round(c) => cmd::round::run(c),
        Command::Handover(c) => cmd::handover::run(c),
        Command::Instrument(c) => cmd::instrument::run(c),
        Command::Chart(c) => cmd::chart::run(c),
        Command::Report(c) => cmd::report::run(c),
        Command::Verify(c) => cmd::verify::run(c),
        Command::Fluid(c) => cmd::fluid::run(c),
        Command::Gas(c) => cmd::gas::run(c),
        Command::Gauge(c) => cmd::gauge::run(c),
        Command::Power(c) => cmd::power::run(c),
        Command::Repair(c) => cmd::repair::run(c),
        Command::Service(c) => cmd::service::run(c),
        Command::Spares(c) => cmd::spares::run(c),
        Command::Vacuum(c) => cmd::vacuum::run(c),
        Command::Treatment(c) => cmd::treatment::run(c),
        Command::Dossier(c) => cmd::dossier::run(c),
        Command::Demo(c) => cmd::demo::run(c),
        Command::Serve(c) => cmd::serve::run(c),
    }
}
