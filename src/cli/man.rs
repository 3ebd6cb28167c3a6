//! Shell completions and the manual page, generated from the flags.

use std::{fmt::Write as _, io};

use clap::{Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::{
    Man,
    roff::{Roff, roman},
};

use crate::cli::{
    args::Cli,
    ask::calculations::{CALCULATIONS, Calculation},
};

/// The name of the command.
const NAME: &str = "stopwright";

/// The completion script for a shell.
pub fn completions(shell: Shell) -> String {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), NAME, &mut script);
    let mut script = text(script);
    if shell == Shell::Fish {
        // The generator for fish omits the values of positional arguments.
        for Calculation { path, summary } in CALCULATIONS.iter() {
            let summary = summary.replace('\'', "\\'");
            // Writing to a String cannot fail.
            let _ = writeln!(
                script,
                "complete -c {NAME} -n \"__fish_{NAME}_using_subcommand ask\" -f -a \"{path}\" -d '{summary}'"
            );
        }
    }
    script
}

/// The manual page in roff: the command, then each subcommand.
pub fn page() -> io::Result<String> {
    let mut command = Cli::command()
        .disable_help_subcommand(true)
        .mut_subcommands(|command| command.mut_args(|argument| argument.hide_possible_values(false)));
    command.build();
    let man = Man::new(command.clone());
    let mut parts = Vec::new();
    man.render_name_section(&mut parts)?;
    man.render_synopsis_section(&mut parts)?;
    man.render_description_section(&mut parts)?;
    // No date, so that builds are reproducible.
    let version = env!("CARGO_PKG_VERSION");
    let mut page = format!(".TH {} 1 \"\" \"{NAME} {version}\"\n{}", NAME.to_uppercase(), text(parts));
    for subcommand in command.get_subcommands() {
        page.push_str(&section(subcommand)?);
    }
    // Every part repeats the same definitions; the rest of the clean-up is for warnings of `mandoc -Tlint`.
    let is_definition = |line: &str| line.starts_with(".ie ") || line.starts_with(".el ");
    let lines = page.lines().enumerate().filter(|(number, line)| *number < 3 || !is_definition(line));
    let lines: Vec<&str> = lines.map(|(_, line)| line.trim_end()).chain([""]).collect();
    Ok(lines.join("\n").replace("\n.br\n\n.br\n", "\n.sp\n"))
}

/// A subcommand, as a section of the page.
fn section(subcommand: &Command) -> io::Result<String> {
    let man = Man::new(subcommand.clone());
    let mut parts = Vec::new();
    man.render_synopsis_section(&mut parts)?;
    man.render_description_section(&mut parts)?;
    man.render_options_section(&mut parts)?;
    let parts = text(parts).replace("\n.SH ", "\n.SS ");
    let mut end = Roff::new();
    // Paragraphs with a heading. Their lines are not to be filled.
    let help = subcommand.get_after_help().map(ToString::to_string).unwrap_or_default();
    for paragraph in help.split("\n\n").filter(|paragraph| !paragraph.is_empty()) {
        let (heading, lines) = paragraph.split_once(":\n").unwrap_or(("", paragraph));
        end.control("SS", [heading.to_uppercase().as_str()]).control("nf", []);
        for line in lines.lines() {
            end.text([roman(line.trim())]);
        }
        end.control("fi", []);
    }
    Ok(format!(".SH {}\n{parts}{}", subcommand.get_name().to_uppercase(), end.render()))
}

fn text(bytes: Vec<u8>) -> String {
    String::from_utf8(bytes).unwrap_or_default()
}
