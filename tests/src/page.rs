//! Pages as a person meets them: links to follow and forms to fill in. Reads the HTML our own
//! templates write; it is no general parser.

/// A form on a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Form {
    /// Where it goes; empty is the page itself.
    pub action: String,
    /// `GET` or `POST`.
    pub method: String,
    /// Whether it uploads files.
    pub is_multipart: bool,
    /// Its fields as they would be sent untouched, in their order.
    pub fields: Vec<Field>,
}

/// An input of a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// Name it is sent under.
    pub name: String,
    /// What it holds.
    pub value: String,
    /// `hidden`, `text`, `checkbox`, `select`, `textarea`, `file`, `submit` and so on.
    pub kind: String,
}

impl Form {
    /// The fields with one of them changed.
    #[must_use]
    pub fn with<'a>(&'a self, name: &str, value: &'a str) -> Vec<(&'a str, &'a str)> {
        self.fields
            .iter()
            .filter(|field| field.kind != "file")
            .map(|f| (f.name.as_str(), if f.name == name { value } else { f.value.as_str() }))
            .collect()
    }

    /// What an untouched field holds.
    #[must_use]
    pub fn value(&self, name: &str) -> Option<&str> {
        self.fields.iter().find(|field| field.name == name).map(|field| field.value.as_str())
    }
}

/// Every form of a page.
#[must_use]
pub fn forms(html: &str) -> Vec<Form> {
    html.split("<form")
        .skip(1)
        .filter_map(|rest| {
            let (tag, inside) = rest.split_once('>')?;
            let inside = inside.split("</form>").next()?;
            Some(Form {
                action: attribute(tag, "action").unwrap_or_default(),
                method: attribute(tag, "method").unwrap_or_default().to_uppercase(),
                is_multipart: attribute(tag, "enctype").is_some_and(|e| e.contains("multipart")),
                fields: fields(inside),
            })
        })
        .collect()
}

/// Every address in a page that starts with `prefix`, once each.
#[must_use]
pub fn links(html: &str, prefix: &str) -> Vec<String> {
    let mut found: Vec<String> = html
        .split('<')
        .filter_map(|tag| {
            let tag = tag.split('>').next()?;
            attribute(tag, "href").or_else(|| attribute(tag, "action"))
        })
        .filter(|link| link.starts_with(prefix))
        .collect();
    found.sort();
    found.dedup();
    found
}

fn fields(html: &str) -> Vec<Field> {
    let mut found = Vec::new();
    for rest in html.split('<').skip(1) {
        let Some((tag, after)) = rest.split_once('>') else { continue };
        let (element, tag) = tag.split_once(char::is_whitespace).unwrap_or((tag, ""));
        match element {
            "option" => {
                // Browsers send the selected option, or else the first.
                if let Some(select) = found.last_mut().filter(|f: &&mut Field| f.kind == "select")
                    && (has(tag, "selected") || select.value.is_empty())
                {
                    let text = || decoded(after.trim());
                    select.value = attribute(tag, "value").unwrap_or_else(text);
                }
            }
            "input" | "select" | "textarea" | "button" => {
                let Some(name) = attribute(tag, "name") else { continue };
                let kind = match element {
                    "input" => attribute(tag, "type").unwrap_or_else(|| "text".to_owned()),
                    "button" => "submit".to_owned(),
                    other => other.to_owned(),
                };
                let is_off = matches!(kind.as_str(), "checkbox" | "radio") && !has(tag, "checked");
                if is_off {
                    continue;
                }
                let value = match element {
                    "textarea" => decoded(after),
                    _ => attribute(tag, "value").unwrap_or_default(),
                };
                found.push(Field { name, value, kind });
            }
            _ => {}
        }
    }
    found
}

fn has(tag: &str, attribute: &str) -> bool {
    tag.split_whitespace().any(|word| word.trim_end_matches('/') == attribute)
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let at = format!(" {name}=\"");
    let tag = format!(" {}", tag.replace('\n', " "));
    let value = tag.split(&at).nth(1)?.split('"').next()?;
    Some(decoded(value))
}

/// Text without the entities our templates write.
#[must_use]
pub fn decoded(text: &str) -> String {
    [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&#x27;", "'"),
        ("&#39;", "'"),
        ("&#x2F;", "/"),
        ("&amp;", "&"),
    ]
    .iter()
    .fold(text.to_owned(), |text, (entity, sign)| text.replace(entity, sign))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_is_read_as_a_browser_would_send_it() {
        let html = "<form method=\"post\" action=\"&#x2F;a?x=1&amp;y=2\"><input type=\"hidden\"
            name=\"csrf\" value=\"t\"><input name=\"name\"><input type=\"checkbox\" name=\"off\" value=\"1\">
            <select name=\"unit\"><option value=\"mm\">mm</option><option value=\"cm\" selected>cm</option></select>
            <textarea name=\"note\">a &amp; b</textarea></form><form><button name=\"go\" value=\"1\"></form>";
        let forms = forms(html);
        assert_eq!(forms.len(), 2);
        assert_eq!((forms[0].method.as_str(), forms[0].action.as_str()), ("POST", "/a?x=1&y=2"));
        let sent = forms[0].with("name", "Ada");
        assert_eq!(sent, [("csrf", "t"), ("name", "Ada"), ("unit", "cm"), ("note", "a & b")]);
        assert_eq!(links(html, "/"), ["/a?x=1&y=2"]);
    }
}
