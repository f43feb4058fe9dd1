//! Puts what flags say into the words of a language: writes the words as JSON, then the sentence of
//! each line of JSON it reads. The phone's sentences are held to these.
//!
//! `cargo run -p handcall --example sentences -- LANGUAGE < lines`

use std::io::Write;

use handcall::words;
use serde_json::Value;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let language = std::env::args().nth(1);
    let w = words::all().of(language.as_deref().unwrap_or(words::FALLBACK));
    let mut out = std::io::stdout().lock();
    writeln!(out, "{w}")?;
    for line in std::io::stdin().lines() {
        let says: Value = serde_json::from_str(&line?)?;
        writeln!(out, "{}", Value::from(words::sentence(w, &says)))?;
    }
    Ok(())
}
