//! A browser for each test: found or reported missing, started, driven, watched, and ended.

use std::{
    env,
    io::{BufRead, BufReader},
    os::unix::process::CommandExt,
    panic::{AssertUnwindSafe, resume_unwind},
    path::{Path, PathBuf},
    process::{Child, Command, Stdio},
    sync::atomic::{AtomicU32, Ordering},
    thread,
    time::{Duration, Instant},
};

use futures_util::FutureExt;
use serde_json::{Value, json};
use thirtyfour::{
    By, ChromeCapabilities, ChromiumLikeCapabilities, LoggingPrefsLogLevel, WebDriver, WebElement,
    prelude::ElementQueryable,
};

/// Chromium starts no services of its own, and connects to nothing but this machine.
const FLAGS: [&str; 9] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
];
/// How long a page may take to reach an expected state.
const PATIENCE: Duration = Duration::from_secs(20);

/// Runs a test in a browser, which is ended whether the test passes or panics.
pub async fn with_browser(test: impl AsyncFnOnce(&Browser)) {
    let [chromium, driver] = found().expect("a trial that runs has a browser");
    let browser = Browser::start(&chromium, &driver).await;
    let ended = AssertUnwindSafe(test(&browser)).catch_unwind().await;
    let quit = browser.window.clone().quit().await;
    drop(browser);
    if let Err(panic) = ended {
        resume_unwind(panic);
    }
    quit.expect("the browser ends");
}

/// What is missing, if the trials cannot run. If a browser is required, that is a failure.
pub fn missing() -> Option<&'static str> {
    if found().is_some() {
        return None;
    }
    let missing = "chromium or chromedriver is not in PATH (Debian: chromium, chromium-driver)";
    let is_required = env::var("STOPWRIGHT_BROWSER").is_ok_and(|value| value == "required");
    assert!(!is_required, "{missing}, and STOPWRIGHT_BROWSER=required");
    Some(missing)
}

/// The paths of Chromium and its driver.
fn found() -> Option<[PathBuf; 2]> {
    let folders = env::var_os("PATH").unwrap_or_default();
    let find =
        |name: &str| env::split_paths(&folders).map(|folder| folder.join(name)).find(|file| file.is_file());
    Some([find("chromium")?, find("chromedriver")?])
}

/// ChromeDriver with the browser that it starts, and their folder. All are removed on drop.
struct Process {
    driver: Child,
    folder: PathBuf,
}

impl Process {
    /// A driver, and its address.
    ///
    /// It takes a free port of IPv6 and gives up where a test's own server has the same one of IPv4, so it is begun
    /// anew, on another.
    fn start(program: &Path) -> (Self, String) {
        let mut output = String::new();
        for _ in 0..20 {
            match Self::try_start(program) {
                Ok(started) => return started,
                Err(last) => output = last,
            }
        }
        panic!("the driver does not start: {output}");
    }

    /// Starts it once. The error is what it printed before it ended.
    fn try_start(program: &Path) -> Result<(Self, String), String> {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = env::temp_dir().join(format!("stopwright-browser-{}-{count}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        let driver = Command::new(program)
            .arg("--port=0")
            .env("HOME", &folder)
            .env("XDG_CONFIG_HOME", &folder)
            .process_group(0)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the driver runs");
        let mut process = Self { driver, folder };
        let mut lines = BufReader::new(process.driver.stdout.take().expect("output")).lines();
        let mut output = String::new();
        let port = lines.by_ref().map(|line| line.expect("text")).find_map(|line| {
            output.push('\n');
            output.push_str(&line);
            Some(line.split_once("started successfully on port ")?.1.trim_end_matches('.').to_owned())
        });
        let address = format!("http://127.0.0.1:{}", port.ok_or(output)?);
        // The rest of its output is read as well, so that it never blocks on a full pipe.
        thread::spawn(|| lines.for_each(drop));
        Ok((process, address))
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        // The browser is in the driver's process group.
        let group = format!("-{}", self.driver.id());
        let _ = Command::new("kill").args(["-KILL", "--", &group]).stderr(Stdio::null()).status();
        let _ = self.driver.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// A browser with one window.
pub struct Browser {
    window: WebDriver,
    _process: Process,
}

impl Browser {
    async fn start(chromium: &Path, driver: &Path) -> Self {
        let (process, url) = Process::start(driver);
        let mut wants = ChromeCapabilities::new();
        let mut set = || {
            wants.set_binary(chromium.to_str()?).ok()?;
            wants.set_browser_log_level(LoggingPrefsLogLevel::All).ok()?;
            let data = format!("--user-data-dir={}", process.folder.join("data").display());
            FLAGS.into_iter().chain([data.as_str()]).try_for_each(|flag| wants.add_arg(flag).ok())
        };
        set().expect("what is wanted of the browser");
        let window = WebDriver::new(url, wants).await.expect("a browser");
        Self { window, _process: process }
    }

    /// Opens a page, and waits until it is loaded.
    pub async fn open(&self, url: &str) {
        self.window.goto(url).await.expect("a page");
    }

    /// The first element that a selector finds, once there is one.
    pub async fn find(&self, selector: &str) -> WebElement {
        let found =
            self.window.query(By::Css(selector)).wait(PATIENCE, Duration::from_millis(20)).first().await;
        found.unwrap_or_else(|error| panic!("{selector}: {error}"))
    }

    pub async fn click(&self, selector: &str) {
        self.find(selector).await.click().await.unwrap_or_else(|error| panic!("{selector}: {error}"));
    }

    /// Replaces the content of a field.
    pub async fn write(&self, selector: &str, text: &str) {
        let field = self.find(selector).await;
        field.clear().await.expect("an empty field");
        field.send_keys(text).await.expect("a full field");
    }

    /// Presses Tab.
    pub async fn press_tab(&self) {
        self.window.action_chain().send_keys("\u{e004}").perform().await.expect("a key");
    }

    /// Runs a script and returns its result.
    pub async fn run(&self, script: &str) -> Value {
        let ran = self.window.execute(script, Vec::new()).await;
        ran.unwrap_or_else(|error| panic!("{script}: {error}")).json().clone()
    }

    /// Runs a script and returns what it passes to its callback, the last argument.
    pub async fn run_async(&self, script: &str, arguments: Vec<Value>) -> Value {
        let ran = self.window.execute_async(script, arguments).await;
        ran.unwrap_or_else(|error| panic!("{script}: {error}")).json().clone()
    }

    /// The texts of the elements that match a selector, one a line.
    pub async fn text(&self, selector: &str) -> String {
        let script = format!(
            "return [...document.querySelectorAll({})].map((found) => found.innerText).join('\\n')",
            json!(selector)
        );
        self.run(&script).await.as_str().expect("text").to_owned()
    }

    /// Waits until an expression is true.
    pub async fn until(&self, expression: &str) {
        let begun = Instant::now();
        while self.run(&format!("return !!({expression})")).await != true {
            assert!(begun.elapsed() < PATIENCE, "not so: {expression}");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// What the console has printed since the last call: errors, warnings, and violations of the page's policy. The page
    /// that the browser starts with is left while its own scripts still run.
    pub async fn complaints(&self) -> Vec<String> {
        let entries = self.window.browser_log().await.expect("the console");
        let is_ours = |message: &str| !message.starts_with("chrome://");
        let is_complaint = |level: &str| ["WARNING", "SEVERE"].contains(&level);
        let entries = entries.into_iter().filter(|entry| is_complaint(&entry.level));
        entries.map(|entry| entry.message).filter(|message| is_ours(message)).collect()
    }

    /// The addresses of all that the page has loaded.
    pub async fn loaded(&self) -> Vec<String> {
        let loaded = self.run("return performance.getEntriesByType('resource').map((one) => one.name)").await;
        serde_json::from_value(loaded).expect("addresses")
    }

    /// How much wider the page is than its window, px. On a phone `innerWidth` grows with the page, which is zoomed out.
    pub async fn too_wide(&self) -> i64 {
        let over =
            self.run("const {scrollWidth, clientWidth} = document.documentElement; return scrollWidth - clientWidth").await;
        over.as_i64().expect("pixels").max(0)
    }

    /// Sends a command of Chromium's own protocol.
    pub async fn ask(&self, command: &str, parameters: Value) -> Value {
        let asked = self.window.cdp().send_raw(command, parameters).await;
        asked.unwrap_or_else(|error| panic!("{command}: {error}"))
    }

    /// Sets the width of the window, in pixels of the page.
    pub async fn set_width(&self, width: u32) {
        let size = json!({"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 500});
        self.ask("Emulation.setDeviceMetricsOverride", size).await;
    }

    /// Sets the preferred colour scheme, `light` or `dark`.
    pub async fn set_scheme(&self, scheme: &str) {
        let wish = json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
        self.ask("Emulation.setEmulatedMedia", wish).await;
    }
}
