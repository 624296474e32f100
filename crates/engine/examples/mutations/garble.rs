//! Ways in which a JSON file goes wrong: what somebody mistypes, and what no one would type.

use serde_json::{Map, Value, json};

use crate::bend::EXTREMES;
use crate::chance::Chance;

type Garble = fn(&mut Value, &[Value], &mut Chance);

const WAYS: &[(&str, Garble)] = &[
    ("a number becomes a little different", number_nudged),
    ("a number becomes a little different", number_nudged),
    ("a number becomes extreme", number_extreme),
    ("a value is of another kind", other_kind),
    ("a field is missing", field_missing),
    ("a field has another name", field_renamed),
    ("a list is longer or shorter", list_length),
    ("a part is taken from elsewhere", from_elsewhere),
    ("a choice is another word", other_word),
];

/// Garbles the value in one way; returns its name. `others` are whole files to take parts from.
pub fn garble(value: &mut Value, others: &[Value], chance: &mut Chance) -> &'static str {
    let (what, way) = chance.of(WAYS);
    way(value, others, chance);
    what
}

/// Writes a field into the text a second time, with another value.
pub fn double_a_field(text: &str, chance: &mut Chance) -> String {
    let opened: Vec<usize> = text.match_indices('{').map(|(at, _)| at + 1).collect();
    let names: Vec<&str> = text.match_indices("\": ").filter_map(|(at, _)| text[..at].rsplit('"').next()).collect();
    if opened.is_empty() || names.is_empty() {
        return text.to_owned();
    }
    let (at, name) = (*chance.of(&opened), *chance.of(&names));
    let (before, after) = text.split_at(at);
    format!("{before} \"{name}\": {}, {after}", chance.of(&["1", "null", "\"x\"", "[]", "{}", "1e400", "-3.5"]))
}

/// The value at a random place that `wanted` accepts.
fn place<'a>(value: &'a mut Value, wanted: fn(&Value) -> bool, chance: &mut Chance) -> Option<&'a mut Value> {
    let mut paths = Vec::new();
    collect(value, &mut String::new(), wanted, &mut paths);
    if paths.is_empty() {
        return None;
    }
    let path = chance.of(&paths);
    value.pointer_mut(path)
}

fn collect(value: &Value, path: &mut String, wanted: fn(&Value) -> bool, found: &mut Vec<String>) {
    if wanted(value) {
        found.push(path.clone());
    }
    let length = path.len();
    let mut below = |key: &str, value: &Value| {
        path.push('/');
        path.push_str(&key.replace('~', "~0").replace('/', "~1"));
        collect(value, path, wanted, found);
        path.truncate(length);
    };
    match value {
        Value::Object(fields) => fields.iter().for_each(|(key, value)| below(key, value)),
        Value::Array(list) => list.iter().enumerate().for_each(|(n, value)| below(&n.to_string(), value)),
        _ => {}
    }
}

fn number_nudged(value: &mut Value, _: &[Value], chance: &mut Chance) {
    for _ in 0..1 + chance.below(3) {
        let Some(at) = place(value, Value::is_number, chance) else { return };
        let old = at.as_f64().unwrap_or(1.0);
        let new = match chance.below(3) {
            0 => old * f64::from(chance.between(0.1, 3.0)),
            1 => old + f64::from(chance.between(-20.0, 20.0)),
            _ => f64::from(chance.between(-2.0, 60.0)).round(),
        };
        *at = if at.is_f64() { json!(new) } else { json!(new.abs() as u64) };
    }
}

fn number_extreme(value: &mut Value, _: &[Value], chance: &mut Chance) {
    if let Some(at) = place(value, Value::is_number, chance) {
        // NaN and infinity, which JSON lacks, become null.
        *at = if chance.happens(0.8) { json!(chance.of(&EXTREMES)) } else { json!(u64::MAX - chance.below(2) as u64) };
    }
}

fn other_kind(value: &mut Value, _: &[Value], chance: &mut Chance) {
    if let Some(at) = place(value, |_| true, chance) {
        *at = match chance.below(8) {
            0 => Value::Null,
            1 => json!(true),
            2 => json!("3 mm"),
            3 => json!([]),
            4 => json!({}),
            5 => json!("x".repeat(5000)),
            6 => (0..100).fold(json!(1), |inside, _| json!([inside])),
            _ => json!(-1.5),
        };
    }
}

/// A random field: the object that holds it, and its name.
fn record<'a>(value: &'a mut Value, chance: &mut Chance) -> Option<(&'a mut Map<String, Value>, String)> {
    let fields = place(value, |v| v.as_object().is_some_and(|fields| !fields.is_empty()), chance)?.as_object_mut()?;
    let names: Vec<String> = fields.keys().cloned().collect();
    let name = chance.of(&names).clone();
    Some((fields, name))
}

fn field_missing(value: &mut Value, _: &[Value], chance: &mut Chance) {
    if let Some((fields, name)) = record(value, chance) {
        fields.remove(&name);
    }
}

fn field_renamed(value: &mut Value, _: &[Value], chance: &mut Chance) {
    if let Some((fields, name)) = record(value, chance) {
        let inside = fields.remove(&name).unwrap_or_default();
        let new = match chance.below(3) {
            0 => name.replace("_mm", ""),
            1 => name + "s",
            _ => String::new(),
        };
        fields.insert(new, inside);
    }
}

fn list_length(value: &mut Value, _: &[Value], chance: &mut Chance) {
    let Some(Value::Array(list)) = place(value, Value::is_array, chance) else { return };
    match chance.below(3) {
        0 => drop(list.pop()),
        1 => list.clear(),
        _ => {
            let copies = if chance.happens(0.9) { 1 + chance.below(4) } else { 300 };
            if let Some(last) = list.last().cloned() {
                list.extend(std::iter::repeat_n(last, copies));
            }
        }
    }
}

fn from_elsewhere(value: &mut Value, others: &[Value], chance: &mut Chance) {
    let mut other = chance.of(others).clone();
    // The same field of another file fits; any other part mostly does not.
    if chance.happens(0.7) {
        let Some(names) = value.as_object().map(|fields| fields.keys().cloned().collect::<Vec<_>>()) else { return };
        if names.is_empty() {
            return;
        }
        let name = chance.of(&names);
        if let (Some(mine), Some(theirs)) = (value.get_mut(name), other.get_mut(name)) {
            std::mem::swap(mine, theirs);
        }
    } else if let (Some(theirs), Some(mine)) = (place(&mut other, |_| true, chance), place(value, |_| true, chance)) {
        std::mem::swap(mine, theirs);
    }
}

fn other_word(value: &mut Value, _: &[Value], chance: &mut Chance) {
    let words = [
        "forearm",
        "ankle",
        "left",
        "round",
        "slot",
        "cells",
        "honeycomb",
        "along",
        "branching",
        "crossed",
        "rigid",
        "flexible",
        "inch",
        "m",
        "",
        "Round",
        "\u{0}",
        "\u{202e}7\n",
        "ＴＨ",
        "🏒",
        "'; --",
        "../../scan",
    ];
    if let Some(at) = place(value, Value::is_string, chance) {
        *at = json!(chance.of(&words));
    }
}
