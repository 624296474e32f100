//! Spoils small scans and designs and takes each through the whole job:
//! `mutations [--count N] [--seed S] [--first N] [--only KIND] [--worst N] [--seconds N] [--sentences] [--keep DIR]`
//!
//! Promised, and tested here: no panic, no case over 10 s of processor time (or `--seconds`) or 1 GB, and every refusal
//! a sentence. Case N of a seed and kind is the same on every machine and in every part of a run, so `--first 5000
//! --count 5000` on one core and `--first 10000 --count 5000` on another make one run. Each failure is printed with the
//! options that repeat it alone. With `--keep` its files go to that folder, and those of the current case to `running`
//! in it, where they remain if the program is killed.
//!
//! Prints a table by kind with its worst cases, the worst cases of all by time and by memory, and with `--sentences`
//! what was said, each form once. Exits with 1 where a promise was broken.
#![allow(clippy::print_stdout, clippy::print_stderr)]

mod bend;
mod case;
#[path = "../shared/chance.rs"]
mod chance;
mod files;
mod garble;
mod job;
mod polygons;
mod record;
mod samples;
mod sentence;
mod spoil;
mod watch;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use case::{Case, Kind};
use chance::Chance;
use cpu_time::ProcessTime;
use job::End;
use mesh::Job;
use peak_alloc::PeakAlloc;
use record::{Record, Run};
use samples::{Result, Samples};
use watch::Watch;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// Most processor time of a case, s; on a busy machine it changes little.
const MOST_SECONDS: u64 = 10;
const MOST_BYTES: usize = 1 << 30;

/// The options.
struct Asked {
    count: u64,
    seed: u64,
    first: u64,
    only: Option<Kind>,
    worst: usize,
    seconds: u64,
    sentences: bool,
    keep: Option<PathBuf>,
}

impl Asked {
    fn read() -> Result<Self> {
        let mut asked = Self {
            count: 500,
            seed: 1,
            first: 0,
            only: None,
            worst: 10,
            seconds: MOST_SECONDS,
            sentences: false,
            keep: None,
        };
        let mut words = std::env::args().skip(1);
        while let Some(word) = words.next() {
            let mut value = || words.next().ok_or_else(|| format!("{word} wants a value"));
            match word.as_str() {
                "--count" => asked.count = value()?.parse()?,
                "--seed" => asked.seed = value()?.parse()?,
                "--first" => asked.first = value()?.parse()?,
                "--seconds" => asked.seconds = value()?.parse()?,
                "--worst" => asked.worst = value()?.parse()?,
                "--keep" => asked.keep = Some(value()?.into()),
                "--sentences" => asked.sentences = true,
                "--only" => {
                    let kind = value()?;
                    let known = || format!("no kind {kind}; there are {}", Kind::words());
                    asked.only = Some(Kind::named(&kind).ok_or_else(known)?);
                }
                _ => return Err(format!("{word} is not known; see the first lines of this program's source").into()),
            }
        }
        Ok(asked)
    }

    /// The options that repeat case `n`.
    fn words(&self, n: u64) -> String {
        let only = self.only.map(|kind| format!(" --only {}", kind.word())).unwrap_or_default();
        format!("--seed {} --first {n} --count 1{only}", self.seed)
    }
}

fn main() -> Result<ExitCode> {
    let asked = Asked::read()?;
    let samples = Samples::new()?;
    let said = hear_panics();
    let watch = Watch::new(Duration::from_secs(asked.seconds));
    let mut run = Run::default();
    for n in asked.first..asked.first + asked.count {
        let words = asked.words(n);
        let mut chance = Chance::new(asked.seed, n);
        let kind = asked.only.unwrap_or_else(|| Kind::draw(&mut chance));
        let case = Case::draw(kind, &samples, &mut chance);
        if let Some(keep) = &asked.keep {
            put(&case, &keep.join("running"))?;
        }
        let record = one(&case, (n, words), &samples, &mut chance, &said, &watch)?;
        if let (Some(failure), Some(keep)) = (&record.failure, &asked.keep) {
            eprintln!("{}: {failure}", record.words);
            put(&case, &keep.join(format!("{}-{n}", kind.word())))?;
        }
        run.add(record);
    }
    run.print(asked.worst, asked.sentences);
    Ok(ExitCode::from(u8::from(run.failed() > 0)))
}

/// Runs case `n` and measures it.
fn one(
    case: &Case,
    (n, words): (u64, String),
    samples: &Samples,
    chance: &mut Chance,
    said: &Mutex<String>,
    watch: &Watch,
) -> Result<Record> {
    let folder = tempfile::tempdir()?;
    let job = Job::silent();
    let before = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    watch.begin(&words, &job);
    let since = ProcessTime::now();
    let ended = catch_unwind(AssertUnwindSafe(|| job::run(case, samples, folder.path(), chance, &job)));
    let time = since.elapsed();
    watch.end();
    let bytes = MEMORY.peak_usage().saturating_sub(before);
    let (refusal, mut failure) = match ended {
        Ok(Ok(End::Built)) => (None, None),
        Ok(Ok(End::Refused(said))) => {
            let fault = sentence::fault(&said, &case.files[0].0).map(|why| format!("no sentence, {why}: {said}"));
            (Some(said), fault)
        }
        Ok(Err(broken)) => (None, Some(broken)),
        Err(_) => (None, Some(format!("panic: {}", said.lock().map(|said| said.clone()).unwrap_or_default()))),
    };
    if time > watch.most_time {
        failure = Some(format!("takes {:.1} s", time.as_secs_f64()));
    }
    if bytes > MOST_BYTES {
        failure = Some(format!("takes {} MB", bytes >> 20));
    }
    Ok(Record { n, kind: case.kind, words, how: case.how.clone(), time, bytes, refusal, failure })
}

/// Keeps what a panic says instead of printing it.
fn hear_panics() -> Arc<Mutex<String>> {
    let said = Arc::new(Mutex::new(String::new()));
    let hears = said.clone();
    std::panic::set_hook(Box::new(move |panic| {
        if let Ok(mut said) = hears.lock() {
            *said = panic.to_string().replace('\n', " ");
        }
    }));
    said
}

/// Writes the files of a case and what was done to them.
fn put(case: &Case, folder: &Path) -> Result<()> {
    std::fs::create_dir_all(folder)?;
    for (name, bytes) in &case.files {
        std::fs::write(folder.join(name), bytes)?;
    }
    std::fs::write(folder.join("how.txt"), case.how.join("\n") + "\n")?;
    Ok(())
}
