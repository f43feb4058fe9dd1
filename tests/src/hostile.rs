//! Hostile text: SQL, HTML, template, formula, path, header, Unicode and number tricks, after the
//! requirements of OWASP ASVS 4.0.3, chapter 5 (from memory); each string is our own.

/// Marks markup that came back unescaped.
pub const MARKUP: &str = "<script>alert(31337)</script>";

/// Every string, short ones first.
#[must_use]
pub fn strings() -> Vec<String> {
    let mut all: Vec<String> = [
        "'; DROP TABLE reading; --",
        "\" OR 1=1 --",
        MARKUP,
        "\"><img src=x onerror=alert(31337)>",
        "{{ 31337 * 3 }}{% raw %}",
        "=HYPERLINK(\"http://127.0.0.1\",\"x\")",
        "+1+1",
        "@SUM(A1)",
        "../../../../etc/passwd",
        "..\\..\\con",
        "a\r\nset-cookie: x=1",
        "a\0b",
        "\u{202e}gnp.exe",
        "\u{feff}\u{200b}\u{200d}",
        "e\u{301}\u{301}\u{301}\u{301}\u{301}",
        "\u{1f9e4}\u{1f3fd}",
        "-1e308",
        "1e400",
        "NaN",
        "-0",
        "9999999999999999999999999",
        "0x1F",
        "1,234,567.8",
        "%00%0d%0a",
        "true",
        "[]",
        "null",
    ]
    .map(ToOwned::to_owned)
    .to_vec();
    all.push("x".repeat(100_000));
    all.push("\u{20ac}".repeat(5_000));
    all
}
