//! A real Chromium, driven by W3C WebDriver through chromedriver, with a new profile and no network of its own.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use fantoccini::elements::Element;
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tokio::runtime::{Builder, Runtime};

use crate::code_reference;

/// So long something that a script does is waited for.
const PATIENCE: Duration = Duration::from_secs(30);

/// A browser with one page open.
pub struct Browser {
    runtime: Runtime,
    client: Option<Client>,
    driver: Child,
    _profile: tempfile::TempDir,
}

/// Whether there is no browser; then the caller is skipped. Where references are required, that fails.
pub fn missing() -> bool {
    let found = |name: &str| code_reference::ask(name, &["--version"], "").is_some();
    code_reference::missing("chromium with chromedriver", found("chromium") && found("chromedriver"))
}

/// A command of Chromium's own protocol, for what WebDriver does not have.
#[derive(Debug)]
struct Chromium(Value);

impl WebDriverCompatibleCommand for Chromium {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/goog/cdp/execute", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &url::Url) -> (axum::http::Method, Option<String>) {
        (axum::http::Method::POST, Some(self.0.to_string()))
    }
}

impl Browser {
    /// Opens a file in a window of this size, in px.
    pub fn open(page: &Path, width: u32, height: u32) -> Self {
        Self::at(&format!("file://{}", page.display()), width, height)
    }

    /// Opens an address in a window of this size, in px.
    pub fn at(address: &str, width: u32, height: u32) -> Self {
        let profile = tempfile::tempdir().unwrap();
        let mut driver =
            Command::new("chromedriver").arg("--port=0").stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut output = BufReader::new(driver.stdout.take().unwrap());
        let port: u16 = loop {
            let mut line = String::new();
            assert!(output.read_line(&mut line).unwrap() > 0, "chromedriver ended");
            if let Some((_, port)) = line.split_once("successfully on port ") {
                break port.trim().trim_end_matches('.').parse().unwrap();
            }
        };
        // What it goes on to say must not fill the pipe.
        std::thread::spawn(move || std::io::copy(&mut output, &mut std::io::sink()));
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
            // A page that still scrolls is not where it is pressed.
            "--force-prefers-reduced-motion".to_owned(),
            format!("--window-size={width},{height}"),
            format!("--user-data-dir={}", profile.path().display()),
        ];
        let options = json!({"browserName": "chrome", "goog:chromeOptions": {"args": arguments}});
        let wanted = options.as_object().unwrap().clone();
        let runtime = Builder::new_current_thread().enable_all().build().unwrap();
        let server = format!("http://127.0.0.1:{port}");
        let opened = Client::with_capabilities_and_connector(&server, &wanted, HttpConnector::new());
        let client = runtime.block_on(opened).unwrap();
        let browser = Self { runtime, client: Some(client), driver, _profile: profile };
        browser.go(address);
        browser
    }

    fn client(&self) -> &Client {
        self.client.as_ref().unwrap()
    }

    /// Leads to an address.
    pub fn go(&self, address: &str) {
        self.runtime.block_on(self.client().goto(address)).unwrap();
    }

    /// Where it is.
    pub fn address(&self) -> String {
        self.runtime.block_on(self.client().current_url()).unwrap().to_string()
    }

    /// What a function body gives when it runs in the page.
    pub fn run(&self, script: &str) -> Value {
        self.runtime.block_on(self.client().execute(script, Vec::new())).unwrap()
    }

    /// What a function body hands to its last argument, some time after it ran in the page.
    pub fn run_until_told(&self, script: &str, arguments: Vec<Value>) -> Value {
        self.runtime.block_on(self.client().execute_async(script, arguments)).unwrap()
    }

    /// Types into the element that a CSS selector finds; what stands there is replaced.
    pub fn type_into(&self, selector: &str, text: &str) {
        let element = self.element(selector);
        self.runtime.block_on(element.clear()).unwrap();
        if !text.is_empty() {
            self.runtime.block_on(element.send_keys(text)).unwrap();
        }
    }

    /// Chooses files in a file field, as a person does.
    pub fn choose(&self, selector: &str, files: &[String]) {
        let element = self.element(selector);
        self.runtime.block_on(element.send_keys(&files.join("\n"))).unwrap();
    }

    /// Presses the element that a CSS selector finds, as a person does: it must be in view and not covered.
    pub fn press(&self, selector: &str) {
        let element = self.element(selector);
        self.runtime.block_on(element.click()).unwrap_or_else(|error| panic!("{selector}: {error}"));
    }

    /// Presses keys where the focus is. Source of the keys' names: W3C, WebDriver, 15.4.2.
    pub fn keys(&self, keys: &str) {
        let element = self.runtime.block_on(self.client().active_element()).unwrap();
        self.runtime.block_on(element.send_keys(keys)).unwrap();
    }

    /// Waits until an element is there.
    pub fn element(&self, selector: &str) -> Element {
        let wait = self.client().wait().at_most(PATIENCE);
        let found = self.runtime.block_on(wait.for_element(Locator::Css(selector)));
        found.unwrap_or_else(|error| panic!("{selector} at {}: {error}\n{}", self.address(), self.text("body")))
    }

    /// The text that a person sees in an element.
    pub fn text(&self, selector: &str) -> String {
        let found = self.runtime.block_on(self.client().find(Locator::Css(selector))).unwrap();
        self.runtime.block_on(found.text()).unwrap()
    }

    /// Waits until the text that a person sees in an element holds these words; gives it.
    pub fn wait_for_text(&self, selector: &str, words: &str) -> String {
        let start = std::time::Instant::now();
        loop {
            let found = self.runtime.block_on(self.client().find(Locator::Css(selector)));
            // An element that the page just replaced has no text any more.
            let text = found.and_then(|found| self.runtime.block_on(found.text())).unwrap_or_default();
            if text.contains(words) {
                return text;
            }
            assert!(
                start.elapsed() < PATIENCE,
                "'{words}' is not in {selector} at {}: {text}\n{}",
                self.address(),
                self.text("body")
            );
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// A picture of the window, as PNG.
    pub fn picture(&self) -> Vec<u8> {
        self.runtime.block_on(self.client().screenshot()).unwrap()
    }

    /// A command of Chromium's own protocol, for what WebDriver does not have.
    pub fn chromium(&self, command: &str, parameters: &Value) {
        let command = Chromium(json!({"cmd": command, "params": parameters}));
        self.runtime.block_on(self.client().issue_cmd(command)).unwrap();
    }

    /// The person's wish for dark pages, or light ones.
    pub fn dark(&self, dark: bool) {
        let scheme = if dark { "dark" } else { "light" };
        let media = json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
        self.chromium("Emulation.setEmulatedMedia", &media);
    }

    /// A window of this size, in px, as a phone has it or a page enlarged.
    pub fn size(&self, width: u32, height: u32) {
        let metrics = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.chromium("Emulation.setDeviceMetricsOverride", &metrics);
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // The browser ends with its session; a driver that can't be asked any more is killed all the same.
        if let Some(client) = self.client.take()
            && !std::thread::panicking()
        {
            self.runtime.block_on(client.close()).unwrap();
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
