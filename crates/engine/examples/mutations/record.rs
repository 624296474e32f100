//! What a run found.

use std::collections::BTreeMap;
use std::time::Duration;

use crate::case::Kind;

/// What one case took and how it ended.
pub struct Record {
    /// Number within its seed.
    pub n: u64,
    pub kind: Kind,
    /// Options that repeat it.
    pub words: String,
    pub how: Vec<&'static str>,
    pub time: Duration,
    pub bytes: usize,
    /// The error message of a refused case.
    pub refusal: Option<String>,
    /// The promise that was broken.
    pub failure: Option<String>,
}

/// All cases of a run.
#[derive(Default)]
pub struct Run(Vec<Record>);

impl Run {
    pub fn add(&mut self, record: Record) {
        self.0.push(record);
    }

    pub fn failed(&self) -> usize {
        self.0.iter().filter(|record| record.failure.is_some()).count()
    }

    /// Tables, worst cases, and failures.
    pub fn print(&self, worst: usize, sentences: bool) {
        self.print_kinds();
        println!("\nworst by time of the processor");
        self.print_worst(worst, |record| record.time.as_nanos());
        println!("\nworst by memory");
        self.print_worst(worst, |record| record.bytes as u128);
        if sentences {
            println!("\nsentences, by how often each form was said");
            let refusals = self.0.iter().filter_map(|record| record.refusal.as_deref());
            print_forms(refusals);
        }
        if self.failed() > 0 {
            println!("\nfailures, by how often each form occurred");
            print_forms(self.0.iter().filter_map(|record| record.failure.as_deref()));
            println!("\nfailures, each with what brings it back");
            for record in &self.0 {
                if let Some(failure) = &record.failure {
                    println!("{}\n    {failure}\n    {}", record.words, record.how.join("; "));
                }
            }
        }
        println!("\n{} cases, {} failures", self.0.len(), self.failed());
    }

    fn print_kinds(&self) {
        let mut kinds: BTreeMap<Kind, Vec<&Record>> = BTreeMap::new();
        for record in &self.0 {
            kinds.entry(record.kind).or_default().push(record);
        }
        println!("kind          cases   built refused  failed   mean ms    most s      case   most MB      case");
        for (kind, records) in kinds {
            let count = |wanted: fn(&Record) -> bool| records.iter().filter(|record| wanted(record)).count();
            let total: f64 = records.iter().map(|record| record.time.as_secs_f64()).sum();
            let longest = records.iter().map(|record| (record.time, record.n)).max().unwrap_or_default();
            let largest = records.iter().map(|record| (record.bytes, record.n)).max().unwrap_or_default();
            println!(
                "{:<11} {:>7} {:>7} {:>7} {:>7} {:>9.1} {:>9.2} {:>9} {:>9} {:>9}",
                kind.word(),
                records.len(),
                count(|record| record.refusal.is_none() && record.failure.is_none()),
                count(|record| record.refusal.is_some()),
                count(|record| record.failure.is_some()),
                1000.0 * total / records.len() as f64,
                longest.0.as_secs_f64(),
                longest.1,
                largest.0 >> 20,
                largest.1
            );
        }
    }

    fn print_worst(&self, worst: usize, of: fn(&Record) -> u128) {
        let mut records: Vec<&Record> = self.0.iter().collect();
        records.sort_by_key(|record| std::cmp::Reverse(of(record)));
        for record in records.iter().take(worst) {
            println!(
                "{:>7.2} s {:>5} MB  {:<11} {}  ({})",
                record.time.as_secs_f64(),
                record.bytes >> 20,
                record.kind.word(),
                record.words,
                record.how.join("; ")
            );
        }
    }
}

/// Prints each form once: sentences that differ only in numbers are the same form.
fn print_forms<'a>(sentences: impl Iterator<Item = &'a str>) {
    let mut forms: BTreeMap<String, (usize, &str)> = BTreeMap::new();
    for sentence in sentences {
        let form: String = sentence.chars().filter(|c| !c.is_ascii_digit() && !matches!(c, '.' | '-')).collect();
        forms.entry(form).or_insert((0, sentence)).0 += 1;
    }
    let mut forms: Vec<(usize, &str)> = forms.into_values().collect();
    forms.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(b.1)));
    for (count, sentence) in forms {
        println!("{count:>6}  {sentence}");
    }
}
