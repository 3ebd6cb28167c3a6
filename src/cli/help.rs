//! The help texts, and what is wrong with a command line, in 80 columns.

use std::{
    io::{self, Write},
    process::ExitCode,
};

use crate::{
    cli::io::print,
    response::text::lines::{WIDTH, width, wrap},
};

/// Descriptions that begin further right are wrapped under their line's beginning.
const MAX_HANG: usize = 40;

/// Prints a help text or an error, and gives its exit status.
pub fn show(error: &clap::Error) -> ExitCode {
    let text = wrapped(&error.render().to_string());
    // If the reader is gone, there is nobody to tell.
    let _ = if error.use_stderr() { io::stderr().write_all(text.as_bytes()) } else { print(&text) };
    u8::try_from(error.exit_code()).map_or(ExitCode::FAILURE, ExitCode::from)
}

/// Wraps each long line under its description. (The crate that parses arguments would need the size of a terminal for it.)
fn wrapped(text: &str) -> String {
    let mut out = String::new();
    for line in text.lines() {
        if width(line) <= WIDTH {
            out.push_str(line.trim_end());
            out.push('\n');
            continue;
        }
        let indent = line.len() - line.trim_start().len();
        let gap = line[indent..].find("  ").map(|at| indent + at);
        let hang = gap.map(|gap| gap + line[gap..].len() - line[gap..].trim_start().len());
        let hang = hang.filter(|hang| *hang <= MAX_HANG).unwrap_or(indent);
        out.push_str(&line[..hang]);
        wrap(&line[hang..], hang, hang, &mut out);
    }
    out
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;
    use crate::cli::args::Cli;

    #[test]
    fn help_is_read_in_80_columns() {
        let mut command = Cli::command();
        command.build();
        let subcommands: Vec<String> =
            command.get_subcommands().map(|command| command.get_name().to_owned()).collect();
        let mut texts = vec![command.render_long_help().to_string()];
        for name in subcommands {
            let command = command.find_subcommand_mut(&name).expect("a command");
            texts.extend([command.render_help().to_string(), command.render_long_help().to_string()]);
        }
        for line in texts.iter().flat_map(|text| wrapped(text).lines().map(str::to_owned).collect::<Vec<_>>())
        {
            assert!(width(&line) <= WIDTH, "{line}");
        }
    }
}
