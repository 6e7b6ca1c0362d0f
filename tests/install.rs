//! What a person meets after installing: `check`, shell completions (every shell and command, tried
//! in bash itself) and manual pages.

mod program;

use std::io::Write;
use std::process::{Command, Stdio};

use program::{quarterturn, stderr};

/// Every command that a person may type, as `--help` lists them.
fn commands() -> Vec<String> {
    let output = quarterturn().arg("--help").output().expect("it runs");
    let help = String::from_utf8(output.stdout).expect("text");
    let list = help.split("Commands:").nth(1).expect("a list of commands");
    list.lines()
        .skip(1)
        .take_while(|l| l.starts_with("  "))
        .filter_map(|l| l.split_whitespace().next())
        .filter(|c| *c != "help")
        .map(str::to_owned)
        .collect()
}

fn completions(shell: &str) -> String {
    let output = quarterturn()
        .args(["completions", shell])
        .output()
        .expect("it runs");
    assert!(output.status.success(), "{}", stderr(&output));
    String::from_utf8(output.stdout).expect("text")
}

#[test]
fn every_shell_gets_every_command() {
    let commands = commands();
    assert!(commands.len() >= 8, "{commands:?}");
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = completions(shell);
        for command in &commands {
            assert!(script.contains(command), "{shell}: no {command}");
        }
        assert!(script.contains("down-the-line"), "{shell}: no options");
    }
}

#[test]
fn bash_completes_a_command_from_its_first_letters() {
    let script = completions("bash")
        + "\nCOMP_WORDS=(quarterturn mea); COMP_CWORD=1; _quarterturn quarterturn mea quarterturn\n\
           printf '%s\\n' \"${COMPREPLY[@]}\"\n";
    let mut bash = Command::new("bash")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("bash is there, as the project's scripts need it");
    let mut input = bash.stdin.take().expect("a pipe");
    input.write_all(script.as_bytes()).expect("bash listens");
    drop(input);
    let output = bash.wait_with_output().expect("bash ends");
    assert_eq!(String::from_utf8_lossy(&output.stdout), "measure\n");
}

#[test]
fn every_command_gets_a_manual_page() {
    let folder = tempfile::tempdir().expect("a folder");
    let pages = folder.path().join("man");
    let output = quarterturn()
        .arg("manual")
        .arg(&pages)
        .output()
        .expect("it runs");
    assert!(output.status.success(), "{}", stderr(&output));
    let read = |name: &str| std::fs::read_to_string(pages.join(name)).expect(name);
    assert!(read("quarterturn.1").contains("130 stopped by you"));
    for command in commands() {
        let page = read(&format!("quarterturn-{command}.1"));
        assert!(page.contains(".SH SYNOPSIS"), "{command}");
        assert!(
            page.contains(&format!("quarterturn {command}")),
            "{command}"
        );
    }
    assert!(read("quarterturn-measure.1").contains("stature"));
    assert!(!pages.join("quarterturn-worker.1").exists());
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let file = tempfile::NamedTempFile::new().expect("a file");
    let output = quarterturn()
        .arg("manual")
        .arg(file.path())
        .output()
        .expect("it runs");
    assert_eq!(output.status.code(), Some(1));
    let said = stderr(&output);
    assert!(said.contains(&*file.path().to_string_lossy()), "{said}");
    assert!(said.contains("Check that"), "{said}");
}

/// What `quarterturn check` says and how it ends, with the runtime library named.
fn check(runtime: &std::path::Path) -> (Option<i32>, String) {
    let output = quarterturn()
        .arg("check")
        .env("QUARTERTURN_RUNTIME", runtime)
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    (output.status.code(), said)
}

#[test]
fn check_finds_what_is_there() {
    let output = quarterturn().arg("check").output().expect("it runs");
    let said = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert_eq!(said.matches("found    ").count(), 5, "{said}");
    assert!(
        !said.contains("missing") && !said.contains("broken"),
        "{said}"
    );
}

#[test]
fn check_says_what_the_networks_run_on_and_falls_back_with_a_word() {
    let output = quarterturn()
        .args(["check", "--run-on", "directml"])
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{said}");
    if !said.contains("networks run on: directml") {
        assert!(said.contains("networks run on: processor"), "{said}");
        assert!(said.contains("asked to run on directml, but"), "{said}");
    }
}

#[test]
fn check_says_what_is_missing_and_what_to_do() {
    let folder = tempfile::tempdir().expect("a folder");
    let (code, said) = check(&folder.path().join("none.so"));
    assert_eq!(code, Some(1));
    assert!(said.contains("missing  runtime library"), "{said}");
    assert!(said.contains("pipelines/first-run.sh"), "{said}");
    assert!(said.contains("found    torso network"), "{said}");
}

#[test]
fn check_notices_a_library_that_does_not_load() {
    let file = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(file.path(), "words").expect("writes");
    let (code, said) = check(file.path());
    assert_eq!(code, Some(1));
    assert!(said.contains("broken   runtime library"), "{said}");
    assert!(said.contains("pipelines/first-run.sh"), "{said}");
}
