//! One browser for all pages: Chromium, spoken to over a pipe in its DevTools protocol.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};

/// What takes longer than this has failed.
const PATIENCE: Duration = Duration::from_secs(60);

/// A browser with one page open.
pub struct Browser {
    process: Child,
    to: ChildStdin,
    from: Receiver<Value>,
    session: String,
    number: u64,
    /// What the page said on its console.
    console: Vec<String>,
}

impl Browser {
    /// Starts the browser, with a profile of its own by this name: two that share one end each other.
    pub fn start(name: &str) -> Browser {
        // The browser listens on descriptor 3 and answers on 4, messages ending in a zero byte.
        let profile = super::jobs::folder(&format!("browser-{name}"));
        let profile = format!("--user-data-dir={}", profile.display());
        let mut process = Command::new("sh")
            .args(["-c", "exec chromium \"$@\" 3<&0 4>&1 </dev/null >/dev/null", "chromium"])
            .args(["--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"])
            .args(["--remote-debugging-pipe", "--no-first-run", &profile, "about:blank"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell");
        let to = process.stdin.take().expect("a pipe");
        let out = process.stdout.take().expect("a pipe");
        let (heard, from) = channel();
        std::thread::spawn(move || {
            let mut out = BufReader::new(out);
            let mut message = Vec::new();
            while out.read_until(0, &mut message).is_ok_and(|read| read > 0) {
                let text = message.strip_suffix(&[0]).unwrap_or(&message);
                if let Ok(value) = serde_json::from_slice(text)
                    && heard.send(value).is_err()
                {
                    break;
                }
                message.clear();
            }
        });
        let session = String::new();
        let mut browser = Browser { process, to, from, session, number: 0, console: Vec::new() };
        let page = browser.ask("Target.createTarget", json!({ "url": "about:blank" }));
        let page = page["targetId"].as_str().expect("a page").to_owned();
        let wanted = json!({ "targetId": page, "flatten": true });
        let session = browser.ask("Target.attachToTarget", wanted);
        browser.session = session["sessionId"].as_str().expect("a session").to_owned();
        for part in ["Page.enable", "Runtime.enable", "Log.enable"] {
            browser.ask(part, json!({}));
        }
        browser
    }

    /// Sends a command and waits for its answer.
    #[track_caller]
    pub fn ask(&mut self, method: &str, params: Value) -> Value {
        self.number += 1;
        let mut message = json!({ "id": self.number, "method": method, "params": params });
        if !self.session.is_empty() {
            message["sessionId"] = json!(self.session);
        }
        let mut text = message.to_string().into_bytes();
        text.push(0);
        self.to.write_all(&text).expect("is chromium on the path?");
        loop {
            let answer = self.hear();
            if answer["id"] == json!(self.number) {
                assert!(answer["error"].is_null(), "{method}: {}", answer["error"]);
                return answer["result"].clone();
            }
        }
    }

    /// The next message; what the console says is kept.
    #[track_caller]
    fn hear(&mut self) -> Value {
        let message = self.from.recv_timeout(PATIENCE).expect("is chromium on the path?");
        if let Some("Runtime.consoleAPICalled" | "Runtime.exceptionThrown" | "Log.entryAdded") =
            message["method"].as_str()
        {
            self.console.push(message["params"].to_string());
        }
        message
    }

    /// Opens a page and waits until it is there.
    #[track_caller]
    pub fn open(&mut self, file: &Path) {
        self.console.clear();
        self.ask("Page.navigate", json!({ "url": format!("file://{}", file.display()) }));
        while self.hear()["method"] != json!("Page.loadEventFired") {}
    }

    /// What the console said since the page was opened.
    pub fn console(&self) -> &[String] {
        &self.console
    }

    /// The window: its width, its medium, and whether the person prefers it dark.
    pub fn window(&mut self, width: u32, medium: &str, is_dark: bool) {
        let size =
            json!({ "width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false });
        self.ask("Emulation.setDeviceMetricsOverride", size);
        let scheme = if is_dark { "dark" } else { "light" };
        let feature = json!({ "name": "prefers-color-scheme", "value": scheme });
        self.ask("Emulation.setEmulatedMedia", json!({ "media": medium, "features": [feature] }));
    }

    /// The value of an expression in the page.
    #[track_caller]
    pub fn value(&mut self, expression: &str) -> Value {
        let wanted = json!({ "expression": expression, "returnByValue": true });
        let answer = self.ask("Runtime.evaluate", wanted);
        assert!(answer["exceptionDetails"].is_null(), "{answer}");
        answer["result"]["value"].clone()
    }

    /// A picture of the whole page (PNG).
    pub fn picture(&mut self) -> Vec<u8> {
        let size = "[innerWidth, document.documentElement.scrollHeight]";
        let size = self.value(size);
        let clip = json!({ "x": 0, "y": 0, "width": size[0], "height": size[1], "scale": 1 });
        let wanted = json!({ "captureBeyondViewport": true, "clip": clip });
        bytes(&self.ask("Page.captureScreenshot", wanted))
    }

    /// The page as it prints (PDF), in the size that its sheet asks for.
    pub fn print(&mut self) -> Vec<u8> {
        bytes(
            &self.ask(
                "Page.printToPDF",
                json!({ "preferCSSPageSize": true, "printBackground": false }),
            ),
        )
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

fn bytes(answer: &Value) -> Vec<u8> {
    let data = answer["data"].as_str().expect("data");
    STANDARD.decode(data).expect("base64")
}
