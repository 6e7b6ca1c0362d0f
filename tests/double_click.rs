//! `quarterturn show` without a folder, which is what a double click does.
#![cfg(target_os = "linux")]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A person's home with a browser that writes down what it is asked to open.
struct Home {
    folder: tempfile::TempDir,
}

impl Home {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path();
        std::fs::create_dir_all(path.join(".config")).expect("a folder");
        let dirs = "XDG_DOCUMENTS_DIR=\"$HOME/Dokumente\"\n";
        std::fs::write(path.join(".config/user-dirs.dirs"), dirs).expect("writes");
        std::fs::create_dir(path.join("bin")).expect("a folder");
        let browser = path.join("bin/xdg-open");
        std::fs::write(
            &browser,
            "#!/bin/sh\nprintf '%s' \"$1\" >\"$HOME/opened\"\n",
        )
        .expect("writes");
        std::fs::set_permissions(&browser, PermissionsExt::from_mode(0o755)).expect("executable");
        Self { folder }
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn show(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_quarterturn"));
        let path = std::env::var("PATH").unwrap_or_default();
        command
            .arg("show")
            .env("HOME", self.folder.path())
            .env_remove("XDG_CONFIG_HOME")
            .env("PATH", format!("{}:{path}", self.at("bin").display()))
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    fn opened(&self) -> String {
        let start = Instant::now();
        loop {
            match std::fs::read_to_string(self.at("opened")) {
                Ok(url) if !url.is_empty() => return url,
                _ if start.elapsed() > Duration::from_secs(20) => panic!("no browser was opened"),
                _ => std::thread::sleep(Duration::from_millis(50)),
            }
        }
    }
}

/// Ends the page however the test ends.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn start(home: &Home) -> Running {
    let mut child = home.show().spawn().expect("it runs");
    let out = child.stdout.take().expect("piped");
    let told = BufReader::new(out).lines().map_while(Result::ok);
    assert!(
        told.take(4)
            .any(|l| l.contains("Dokumente/quarterturn/results"))
    );
    Running(child)
}

fn get(url: &str, path: &str) -> String {
    let (host, key) = url
        .strip_prefix("http://")
        .and_then(|u| u.split_once("/enter?key="))
        .expect("an address with a key");
    let mut to = TcpStream::connect(host).expect("a page");
    write!(
        to,
        "GET {path} HTTP/1.1\r\nHost: {host}\r\nCookie: quarterturn_key={key}\r\nConnection: close\r\n\r\n"
    )
    .expect("asks");
    let mut answer = String::new();
    to.read_to_string(&mut answer).expect("an answer");
    answer
}

fn mode(path: &Path) -> u32 {
    std::fs::metadata(path)
        .expect("a file")
        .permissions()
        .mode()
        & 0o777
}

#[test]
fn it_makes_a_folder_opens_the_browser_and_shows_how_to_film() {
    let home = Home::new();
    let running = start(&home);
    let url = home.opened();
    assert!(home.at("Dokumente/quarterturn/results").is_dir());
    let page = get(&url, "/");
    assert!(page.starts_with("HTTP/1.1 200"), "{page}");
    assert!(
        page.contains("class=\"phones\"") && page.contains("chest height"),
        "{page}"
    );
    // The address carries the key to every clip.
    let address = home.at("Dokumente/quarterturn/.page");
    assert_eq!(mode(&address), 0o600);

    // A second click finds the page that is open.
    std::fs::remove_file(home.at("opened")).expect("it is there");
    let second = home.show().output().expect("it runs");
    assert_eq!(second.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&second.stdout).contains("open already"));
    assert_eq!(home.opened(), url);

    // When the first was ended, however, the next is a page of its own.
    drop(running);
    std::fs::remove_file(home.at("opened")).expect("it is there");
    let _running = start(&home);
    assert_ne!(home.opened(), url);
}

#[test]
fn a_documents_folder_that_cannot_be_written_is_told_in_words() {
    let home = Home::new();
    std::fs::write(home.at("Dokumente"), "a file stands here").expect("writes");
    let output = home.show().output().expect("it runs");
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        said.contains("Dokumente/quarterturn") && said.contains("Check that"),
        "{said}"
    );
}
