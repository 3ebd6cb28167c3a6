//! What shells and `man` know of the command line, made out of it.

use std::{fmt::Write as _, io};

use clap::{Command, CommandFactory};
use clap_complete::Shell;
use clap_mangen::{
    Man,
    roff::{Roff, roman},
};

use crate::cli::{
    args::Cli,
    ask::known::{KNOWN, Known},
};

/// The command, as its users call it.
const NAME: &str = "stopwright";

/// The script that completes the command line in a shell.
pub fn completions(shell: Shell) -> String {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), NAME, &mut script);
    let mut script = text(script);
    if shell == Shell::Fish {
        // Its generator leaves out the values of what is no flag.
        for Known { path, summary } in KNOWN.iter() {
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

/// The manual page, in the language of `man`: the command, and then each of its subcommands.
pub fn page() -> io::Result<String> {
    let mut command = Cli::command()
        .disable_help_subcommand(true)
        .mut_subcommands(|command| command.mut_args(|argument| argument.hide_possible_values(false)));
    command.build();
    let whole = Man::new(command.clone());
    let mut parts = Vec::new();
    whole.render_name_section(&mut parts)?;
    whole.render_synopsis_section(&mut parts)?;
    whole.render_description_section(&mut parts)?;
    // No date: the same source makes the same page.
    let version = env!("CARGO_PKG_VERSION");
    let mut page = format!(".TH {} 1 \"\" \"{NAME} {version}\"\n{}", NAME.to_uppercase(), text(parts));
    for subcommand in command.get_subcommands() {
        page.push_str(&section(subcommand)?);
    }
    // Every part brings the same definitions. `mandoc -Tlint` warns of the rest.
    let is_definition = |line: &str| line.starts_with(".ie ") || line.starts_with(".el ");
    let lines = page.lines().enumerate().filter(|(number, line)| *number < 3 || !is_definition(line));
    let lines: Vec<&str> = lines.map(|(_, line)| line.trim_end()).chain([""]).collect();
    Ok(lines.join("\n").replace("\n.br\n\n.br\n", "\n.sp\n"))
}

/// A subcommand's own page, as a section of the whole.
fn section(subcommand: &Command) -> io::Result<String> {
    let man = Man::new(subcommand.clone());
    let mut parts = Vec::new();
    man.render_synopsis_section(&mut parts)?;
    man.render_description_section(&mut parts)?;
    man.render_options_section(&mut parts)?;
    let parts = text(parts).replace("\n.SH ", "\n.SS ");
    let mut end = Roff::new();
    // Paragraphs with a heading, whose lines are to stay as they are.
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
