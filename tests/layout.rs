//! The layout of `src`: rooms in an order, imports that point down only, and no large circle of files.
//!
//! Reads `use` statements and inline paths (`crate::…`, `super::…`, `self::…`) as text. `mod` lines and tests do not
//! count.

#![expect(clippy::expect_used, reason = "a test fails by panicking")]

use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    path::Path,
};

/// The rooms, from the top. A file imports from its own room and from those below.
const ROOMS: [&str; 11] = [
    "cli",
    "app",
    "web",
    "openapi",
    "endpoints",
    "drawing",
    "response",
    "request",
    "wording",
    "server",
    "light",
];
/// Files in a circle: a type and its helpers, at most.
const MAX_CIRCLE: usize = 3;

/// A module as the names on its path; none for `lib.rs`.
type Module = Vec<String>;
/// What each module imports from.
type Imports = BTreeMap<Module, BTreeSet<Module>>;

/// The text of every module, without its tests and comments.
fn modules() -> BTreeMap<Module, String> {
    fn walk(folder: &Path, path: &[String], found: &mut BTreeMap<Module, String>) {
        for entry in fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").path()) {
            let name = entry.file_stem().and_then(|name| name.to_str()).expect("a name").to_owned();
            let module: Module = path.iter().cloned().chain([name]).collect();
            if entry.is_dir() {
                walk(&entry, &module, found);
            } else if entry.extension().is_some_and(|end| end == "rs") {
                let text = fs::read_to_string(&entry).expect("text");
                let module = if module == ["lib"] { Module::new() } else { module };
                found.insert(module, bare(&text));
            }
        }
    }
    let mut found = BTreeMap::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &[], &mut found);
    found.remove(&vec!["main".to_owned()]);
    found.retain(|module, _| !module.iter().any(|name| name == "tests"));
    found
}

/// A file without comments and without what follows `#[cfg(test)]` at the start of a line.
fn bare(text: &str) -> String {
    let lines = text.lines().take_while(|line| !line.starts_with("#[cfg(test)]"));
    let code = lines.map(|line| line.split_once("//").map_or(line, |(code, _)| code));
    code.collect::<Vec<_>>().join("\n")
}

/// The paths of `use` trees: `a::{b, c::d}` is `a::b` and `a::c::d`.
fn expand(tree: &str) -> Vec<String> {
    let Some((before, rest)) = tree.split_once('{') else { return vec![tree.trim().to_owned()] };
    let inner = &rest[..rest.rfind('}').expect("a brace that closes")];
    let (mut depth, mut parts, mut part) = (0, Vec::new(), String::new());
    for character in inner.chars().chain([',']) {
        match character {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if character == ',' && depth == 0 {
            parts.push(std::mem::take(&mut part));
        } else {
            part.push(character);
        }
    }
    let parts = parts.iter().filter(|part| !part.trim().is_empty());
    parts.flat_map(|part| expand(part)).map(|path| format!("{}{path}", before.trim())).collect()
}

/// The paths that a file names: in `use` statements, and inline from `crate`, `super` or `self` on.
fn paths(text: &str) -> Vec<String> {
    let mut paths = Vec::new();
    let mut rest = String::new();
    let mut statement: Option<String> = None;
    for line in text.lines() {
        let begun = line.trim_start();
        let begun = begun.strip_prefix("pub(crate) ").or(begun.strip_prefix("pub ")).unwrap_or(begun);
        if let (None, Some(tree)) = (&statement, begun.strip_prefix("use ")) {
            statement = Some(tree.to_owned());
        } else if let Some(tree) = &mut statement {
            tree.push_str(line);
        } else {
            rest.push_str(line);
            rest.push('\n');
        }
        if let Some(whole) = statement.take_if(|tree| tree.contains(';')) {
            paths.extend(expand(whole.split(';').next().expect("what stands before it")));
        }
    }
    let is_of_path = |character: char| character.is_alphanumeric() || character == '_' || character == ':';
    let words = rest.split(|character| !is_of_path(character));
    let is_local = |word: &&str| ["crate::", "super::", "self::"].iter().any(|start| word.starts_with(start));
    paths.extend(words.filter(is_local).map(str::to_owned));
    paths
}

/// The module that a path leads to, as seen from another; `None` outside the crate.
fn target(from: &Module, path: &str, all: &BTreeMap<Module, String>) -> Option<Module> {
    let path = path.split(" as ").next().unwrap_or(path);
    let mut names = path.split("::").map(str::trim).filter(|name| !name.is_empty()).peekable();
    let mut at = match *names.peek()? {
        "crate" => {
            names.next();
            Module::new()
        }
        "self" => {
            names.next();
            from.clone()
        }
        "super" => from.clone(),
        first => from.iter().cloned().chain([first.to_owned()]).take(from.len() + 1).collect(),
    };
    if !path.starts_with("crate") && !path.starts_with("self") && !path.starts_with("super") {
        // A child by its bare name, or another crate.
        names.next();
        if !all.contains_key(&at) {
            return None;
        }
    }
    while names.peek() == Some(&"super") {
        names.next();
        at.pop();
    }
    for name in names {
        let deeper: Module = at.iter().cloned().chain([name.to_owned()]).collect();
        if !all.contains_key(&deeper) {
            break;
        }
        at = deeper;
    }
    Some(at)
}

fn imports() -> Imports {
    let all = modules();
    let imports = |(module, text): (&Module, &String)| {
        let targets =
            paths(text).iter().filter_map(|path| target(module, path, &all)).collect::<BTreeSet<_>>();
        (module.clone(), targets.into_iter().filter(|target| target != module).collect())
    };
    all.iter().map(imports).collect()
}

/// The modules that can be reached from one.
fn reached<'i>(from: &'i Module, imports: &'i Imports) -> BTreeSet<&'i Module> {
    let (mut reached, mut waiting) = (BTreeSet::new(), vec![from]);
    while let Some(module) = waiting.pop() {
        for next in imports.get(module).into_iter().flatten() {
            if reached.insert(next) {
                waiting.push(next);
            }
        }
    }
    reached
}

#[test]
fn imports_point_down_only() {
    let room =
        |module: &Module| ROOMS.iter().position(|room| module.first().is_some_and(|first| first == room));
    for (from, targets) in imports() {
        assert!(from.is_empty() || room(&from).is_some(), "{from:?} is in no room");
        for to in targets {
            if let (Some(above), Some(below)) = (room(&from), room(&to)) {
                assert!(
                    above <= below,
                    "{} imports from {}, which is above it",
                    from.join("::"),
                    to.join("::")
                );
            }
        }
    }
}

#[test]
fn no_circle_of_files_is_larger_than_a_type_and_its_helpers() {
    let imports = imports();
    let all: BTreeMap<&Module, BTreeSet<&Module>> =
        imports.keys().map(|module| (module, reached(module, &imports))).collect();
    for (module, reached) in &all {
        let circle: Vec<String> = reached
            .iter()
            .filter(|other| all.get(*other).is_some_and(|back| back.contains(module)))
            .map(|other| other.join("::"))
            .collect();
        assert!(circle.len() <= MAX_CIRCLE, "a circle: {}", circle.join(", "));
    }
}

#[test]
fn paths_are_found_as_rust_finds_them() {
    // The rules of the reader above, by hand.
    assert_eq!(expand("crate::{a::{self, B}, c}"), ["crate::a::self", "crate::a::B", "crate::c"]);
    assert_eq!(
        paths(
            "use std::fmt;\npub use crate::light::{\n    a::B,\n    c,\n};\nfn f() { super::d::e(crate::g()) }"
        ),
        ["std::fmt", "crate::light::a::B", "crate::light::c", "super::d::e", "crate::g"]
    );
    let module = |path: &str| path.split("::").map(str::to_owned).collect::<Module>();
    let all = ["light", "light::set", "light::set::beam"].map(|path| (module(path), String::new()));
    let all: BTreeMap<Module, String> = all.into_iter().chain([(Module::new(), String::new())]).collect();
    let from = module("light::set");
    for (path, to) in [
        ("crate::light::set::beam::Beam", Some("light::set::beam")),
        ("super::Anything", Some("light")),
        ("self::beam::Beam", Some("light::set::beam")),
        ("beam::Beam", Some("light::set::beam")),
        ("std::fmt", None),
    ] {
        assert_eq!(target(&from, path, &all), to.map(module), "{path}");
    }
}
