//! Completions for shells, and the manual page.

use std::process::Command;

use clap::{CommandFactory, ValueEnum};

use crate::ask::stopwright;

#[test]
fn fields_and_an_example_are_listed_without_a_question() {
    let fields = stopwright(&["ask", "ratios/balance", "--fields"]).answer();
    for line in ["* exposure.f_number ", "  lights.0.name ", "  lights.0.unit.energy ", "  tolerance_stops "]
    {
        assert!(fields.lines().any(|field| field.starts_with(line)), "{line}: {fields}");
    }
    // The printed example works as it is, and with arguments that override it.
    let file = std::env::temp_dir().join(format!("stopwright-example-{}", std::process::id()));
    for path in ["ratios/balance", "kit/check", "/v1/units/calibrate"] {
        std::fs::write(&file, stopwright(&["ask", path, "--example"]).answer()).expect("written");
        stopwright(&["ask", path, "--body", file.to_str().expect("a path"), "step=1/3"]).answer();
    }
    std::fs::remove_file(&file).expect("removed");
    let refused = stopwright(&["ask", "marks/iso", "--example"]);
    assert_eq!((refused.status, refused.err.contains("nothing is posted")), (Some(2), true));
}

#[test]
fn shells_complete_commands_flags_and_paths() {
    for shell in clap_complete::Shell::value_variants() {
        let shell = shell.to_string();
        let script = stopwright(&["completions", &shell]).answer();
        for word in ["ask", "completions", "--listen", "--body"] {
            let mut words = script.split(|c: char| !c.is_alphanumeric());
            assert!(words.any(|found| found == word.trim_start_matches('-')), "{shell}: {word}");
        }
        if ["bash", "zsh", "fish"].contains(&shell.as_str()) {
            for path in ["stops/convert", "marks/iso", "ratios/balance", "batch"] {
                assert!(script.contains(path), "{shell}: {path}");
            }
        }
    }
    // Run in bash itself.
    let script = format!(
        "{}\nCOMP_WORDS=(stopwright ask st) COMP_CWORD=2\n_stopwright stopwright st ask\necho \"${{COMPREPLY[@]}}\"\ncomplete -p stopwright\n",
        stopwright(&["completions", "bash"]).answer()
    );
    let output = Command::new("bash").args(["--norc", "-c", &script]).output().expect("bash");
    let output = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(
        output.starts_with("stops/convert\n") && output.contains("-F _stopwright stopwright"),
        "{output}"
    );
}

#[test]
fn the_manual_page_has_every_command_and_flag() {
    let page = stopwright(&["man"]).answer();
    assert!(page.starts_with(".TH STOPWRIGHT 1 "), "{page}");
    let plain = page.replace("\\-", "-").replace("\\fB", "").replace("\\fR", "");
    let command = stopwright::cli::args::Cli::command();
    for subcommand in command.get_subcommands() {
        let heading = format!("\n.SH {}\n", subcommand.get_name().to_uppercase());
        let (_, section) =
            plain.split_once(&heading).unwrap_or_else(|| panic!("{heading} is not in the page"));
        let section = section.split("\n.SH ").next().expect("a section");
        for argument in subcommand.get_arguments() {
            let name = argument.get_long().map_or_else(
                || {
                    argument
                        .get_value_names()
                        .map_or(argument.get_id().to_string(), |names| names[0].to_string())
                },
                |long| format!("--{long}"),
            );
            assert!(section.contains(&name), "{name} is not in {section}");
            if let Some(variable) = argument.get_env() {
                assert!(section.contains(variable.to_str().expect("text")), "{name}");
            }
        }
    }
    for part in ["\n.SS EXAMPLES\n", "\n.SS \"EXIT STATUS\"\n", "stops/convert: Convert stops"] {
        assert!(plain.contains(part), "{part}");
    }
    // Each line is a macro or text: no text begins with a control character by accident.
    for line in page.lines().filter(|line| line.starts_with('.') || line.starts_with('\'')) {
        let requests =
            [".TH ", ".SH ", ".SS ", ".TP", ".RS", ".RE", ".IP ", ".nf", ".fi", ".sp", ".br", ".ie ", ".el "];
        assert!(requests.iter().any(|request| line.starts_with(request)), "{line}");
    }
}
