//! The real program as a process of its own: what only a start, a signal or a crash can show.

use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex, OnceLock};
use std::time::{Duration, Instant};

use crate::actor::Actor;

/// The program, built from the sources under test.
pub fn program() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| {
        // target/<profile>/deps/it-… -> target/<profile>/storksbill
        let test = std::env::current_exe().unwrap();
        let folder = test.parent().and_then(Path::parent).expect("tests run from the target folder");
        let mut build = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
        // Both packages, so that their dependencies have the features these tests were built with.
        build.args(["build", "--quiet", "-p", "storksbill", "-p", "storksbill-tests", "--bin", "storksbill"]);
        build.current_dir(env!("CARGO_MANIFEST_DIR"));
        build.arg("--target-dir").arg(folder.parent().expect("the profile is in the target folder"));
        if folder.ends_with("release") {
            build.arg("--release");
        }
        assert!(build.status().expect("cargo is there").success(), "the program does not build");
        folder.join(format!("storksbill{}", std::env::consts::EXE_SUFFIX))
    })
}

/// What a run of the program came to.
#[derive(Debug)]
pub struct Outcome {
    /// Exit code; none where a signal ended it.
    pub code: Option<i32>,
    /// What it printed.
    pub stdout: String,
    /// What it complained of.
    pub stderr: String,
}

fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(program());
    for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("STORKSBILL_")) {
        command.env_remove(name);
    }
    command.args(arguments).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// Runs the program to its end with `input` on standard input.
pub fn run(arguments: &[&str], input: &str) -> Outcome {
    let mut child = command(arguments).spawn().unwrap();
    // A program that refuses its arguments does not read; that is not this function's business.
    drop(child.stdin.take().unwrap().write_all(input.as_bytes()));
    outcome(child)
}

/// A run of the program that can be cut off.
#[derive(Debug)]
pub struct Running(Child);

impl Running {
    /// Starts it without input.
    pub fn start(arguments: &[&str]) -> Self {
        let mut child = command(arguments).spawn().unwrap();
        drop(child.stdin.take());
        Self(child)
    }

    /// `kill -9`; whether it was still at work.
    pub fn killed(mut self) -> bool {
        let at_work = self.0.try_wait().unwrap().is_none();
        // Gone already where it was not.
        drop(self.0.kill());
        self.0.wait().unwrap();
        at_work
    }

    /// Waits until it has ended.
    pub fn finished(self) -> Outcome {
        outcome(self.0)
    }
}

fn outcome(child: Child) -> Outcome {
    let output = child.wait_with_output().unwrap();
    Outcome {
        code: output.status.code(),
        stdout: String::from_utf8(output.stdout).unwrap(),
        stderr: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Makes an administrator from the command line.
pub fn create_administrator(database: &str, email: &str, password: &str) {
    let arguments = ["admin", "create", "--database", database, "--email", email, "--name", "Una Marsh"];
    let made = run(&arguments, &format!("{password}\n"));
    assert_eq!(made.code, Some(0), "{}", made.stderr);
}

/// A running server process; killed when dropped.
#[derive(Debug)]
pub struct Process {
    child: Child,
    /// `http://127.0.0.1:port`
    pub address: String,
    printed: Arc<Mutex<String>>,
}

impl Process {
    /// Starts `storksbill serve` on a free port and waits until it says where.
    pub fn serve(database: &str, more: &[&str]) -> Self {
        let arguments = [&["serve", "--listen", "127.0.0.1:0", "--database", database], more].concat();
        let mut child = command(&arguments).spawn().unwrap();
        let printed = Arc::new(Mutex::new(String::new()));
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let sink = Arc::clone(&printed);
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                let mut text = sink.lock().unwrap();
                text.push_str(&line);
                text.push('\n');
            }
        });
        let mut process = Self { child, address: String::new(), printed };
        process.address = process.wait_for_address();
        process
    }

    fn wait_for_address(&mut self) -> String {
        let started = Instant::now();
        loop {
            let said = self.printed();
            if let Some((_, rest)) = said.split_once(" is served at ")
                && let Some((address, _)) = rest.split_once("/\n")
            {
                return address.to_owned();
            }
            if let Some(status) = self.child.try_wait().unwrap() {
                panic!("the server ended with {status}: {}", self.complaints());
            }
            assert!(started.elapsed() < Duration::from_secs(30), "the server does not start: {said}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// What it printed so far.
    pub fn printed(&self) -> String {
        self.printed.lock().unwrap().clone()
    }

    fn complaints(&mut self) -> String {
        let mut text = String::new();
        self.child.stderr.take().unwrap().read_to_string(&mut text).unwrap();
        text
    }

    /// Somebody who is not logged in.
    pub fn visitor(&self) -> Actor {
        Actor::new(&self.address, None, None)
    }

    /// `kill -9`: no time to finish anything.
    pub fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Asks it to stop and waits until it has.
    pub fn terminate(mut self) -> Outcome {
        let id = self.child.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &id]).status().unwrap().success());
        let status = self.child.wait().unwrap();
        Outcome { code: status.code(), stdout: self.printed(), stderr: self.complaints() }
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // Gone already after `kill` and `terminate`.
        drop(self.child.kill());
        drop(self.child.wait());
    }
}
