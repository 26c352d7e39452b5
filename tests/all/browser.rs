//! A real Chromium, driven by W3C WebDriver through chromedriver, with a new profile and no network of its own.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use serde_json::{Value, json};

use crate::code_reference;

/// The name under which WebDriver gives an element. Source: W3C, WebDriver, 12.1.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// A browser with one page open.
pub struct Browser {
    driver: Child,
    port: u16,
    session: String,
    _profile: tempfile::TempDir,
}

/// Whether there is no browser; then the caller is skipped. Where references are required, that fails.
pub fn missing() -> bool {
    let found = |name: &str| code_reference::ask(name, &["--version"], "").is_some();
    code_reference::missing("chromium with chromedriver", found("chromium") && found("chromedriver"))
}

impl Browser {
    /// Opens a file in a window of this size.
    pub fn open(page: &Path, width: u32, height: u32) -> Self {
        let profile = tempfile::tempdir().unwrap();
        let mut driver =
            Command::new("chromedriver").arg("--port=0").stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut output = BufReader::new(driver.stdout.take().unwrap());
        let port = loop {
            let mut line = String::new();
            assert!(output.read_line(&mut line).unwrap() > 0, "chromedriver ended");
            if let Some((_, port)) = line.split_once("successfully on port ") {
                break port.trim().trim_end_matches('.').parse().unwrap();
            }
        };
        // What it goes on to say must not fill the pipe.
        std::thread::spawn(move || std::io::copy(&mut output, &mut std::io::sink()));
        let mut browser = Self { driver, port, session: String::new(), _profile: profile };
        let arguments = [
            "--headless=new".to_owned(),
            "--no-sandbox".to_owned(),
            "--disable-gpu".to_owned(),
            "--disable-quic".to_owned(),
            "--no-first-run".to_owned(),
            "--disable-background-networking".to_owned(),
            "--disable-component-update".to_owned(),
            "--disable-sync".to_owned(),
            "--disable-dev-shm-usage".to_owned(),
            format!("--window-size={width},{height}"),
            format!("--user-data-dir={}", browser._profile.path().display()),
        ];
        let options = json!({"args": arguments});
        let wanted = json!({"capabilities": {"alwaysMatch": {"browserName": "chrome", "goog:chromeOptions": options}}});
        let session = browser.call("POST", "/session", &wanted);
        browser.session = format!("/session/{}", session["sessionId"].as_str().unwrap());
        browser.post("/url", &json!({"url": format!("file://{}", page.display())}));
        browser
    }

    /// What a function body gives when it runs in the page.
    pub fn run(&self, script: &str) -> Value {
        self.post("/execute/sync", &json!({"script": script, "args": []}))
    }

    /// Types into the element that a CSS selector finds; what stands there is replaced.
    pub fn type_into(&self, selector: &str, text: &str) {
        let found = self.post("/element", &json!({"using": "css selector", "value": selector}));
        let element = found[ELEMENT].as_str().unwrap().to_owned();
        self.post(&format!("/element/{element}/clear"), &json!({}));
        if !text.is_empty() {
            self.post(&format!("/element/{element}/value"), &json!({"text": text}));
        }
    }

    /// A command of Chromium's own protocol, for what WebDriver does not have.
    pub fn chromium(&self, command: &str, parameters: &Value) {
        self.post("/goog/cdp/execute", &json!({"cmd": command, "params": parameters}));
    }

    fn post(&self, path: &str, body: &Value) -> Value {
        self.call("POST", &format!("{}{path}", self.session), body)
    }

    fn call(&self, method: &str, path: &str, body: &Value) -> Value {
        let body = body.to_string();
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
            body.len()
        );
        stream.write_all(head.as_bytes()).unwrap();
        stream.write_all(body.as_bytes()).unwrap();
        let mut input = BufReader::new(stream);
        let mut length = 0;
        let mut status = String::new();
        input.read_line(&mut status).unwrap();
        loop {
            let mut line = String::new();
            input.read_line(&mut line).unwrap();
            if let Some(value) = line.to_lowercase().strip_prefix("content-length:") {
                length = value.trim().parse().unwrap();
            }
            if line.trim().is_empty() {
                break;
            }
        }
        let mut answer = vec![0; length];
        input.read_exact(&mut answer).unwrap();
        let mut answer: Value = serde_json::from_slice(&answer).unwrap();
        assert!(status.contains(" 200 "), "{path} {body}: {status}{answer}");
        answer["value"].take()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // The browser ends with its session; a driver that can't be asked any more is killed all the same.
        if !self.session.is_empty() && !std::thread::panicking() {
            let session = self.session.clone();
            self.call("DELETE", &session, &json!({}));
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
