//! Holds a value to a schema of the API's description: types, members that must be there, members
//! that are not described. As much of JSON Schema (draft 2020-12) as the description uses.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

/// What a value has that its schema does not allow, each with its place; nothing when it holds.
#[must_use]
pub fn departures(description: &Value, schema: &Value, value: &Value) -> Vec<String> {
    let mut found = Vec::new();
    hold(description, schema, value, "$", &mut found);
    found
}

fn resolved<'a>(description: &'a Value, schema: &'a Value) -> &'a Value {
    let place = schema["$ref"].as_str().and_then(|place| place.strip_prefix('#'));
    place.and_then(|place| description.pointer(place)).unwrap_or(schema)
}

fn hold(description: &Value, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
    let schema = resolved(description, schema);
    for one_of in ["oneOf", "anyOf"] {
        if let Some(choices) = schema[one_of].as_array() {
            let tried = choices.iter().map(|choice| departures(description, choice, value));
            let best = tried.min_by_key(Vec::len).unwrap_or_default();
            found.extend(best.into_iter().map(|says| format!("{at}: of the choices: {says}")));
            return;
        }
    }
    if !is_of_type(schema, value) {
        found.push(format!("{at}: {value} is not {}", schema["type"]));
        return;
    }
    if let Some(allowed) = schema["enum"].as_array().filter(|allowed| !allowed.contains(value)) {
        found.push(format!("{at}: {value} is none of {allowed:?}"));
    }
    match value {
        Value::Array(items) => {
            for (i, item) in items.iter().enumerate() {
                let place = &schema["prefixItems"][i];
                let item_schema = if place.is_null() { &schema["items"] } else { place };
                hold(description, item_schema, item, &format!("{at}[{i}]"), found);
            }
        }
        Value::Object(members) => {
            let mut object = Object::default();
            object.take_in(description, schema);
            for name in object.required.iter().filter(|name| !members.contains_key(**name)) {
                found.push(format!("{at} lacks {name}"));
            }
            for (name, member) in members {
                let at = format!("{at}.{name}");
                match (object.properties.get(name.as_str()), object.others) {
                    (Some(schema), _) => hold(description, schema, member, &at, found),
                    (None, Some(schema)) => hold(description, schema, member, &at, found),
                    (None, None) if object.properties.is_empty() => {}
                    (None, None) => found.push(format!("{at} is not described")),
                }
            }
        }
        _ => {}
    }
}

fn is_of_type(schema: &Value, value: &Value) -> bool {
    let is = |kind: &str| match kind {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "integer" => value.is_i64() || value.is_u64(),
        "number" => value.is_number(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        _ => false,
    };
    match &schema["type"] {
        Value::String(kind) => is(kind),
        Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).any(is),
        _ => true,
    }
}

/// The members an object may and must have, parts of an `allOf` taken together.
#[derive(Default)]
struct Object<'a> {
    properties: BTreeMap<&'a str, &'a Value>,
    required: BTreeSet<&'a str>,
    others: Option<&'a Value>,
}

impl<'a> Object<'a> {
    fn take_in(&mut self, description: &'a Value, schema: &'a Value) {
        let schema = resolved(description, schema);
        let properties = schema["properties"].as_object().into_iter().flatten();
        self.properties.extend(properties.map(|(name, schema)| (name.as_str(), schema)));
        let required = schema["required"].as_array().into_iter().flatten();
        self.required.extend(required.filter_map(Value::as_str));
        self.others = self.others.or(schema.get("additionalProperties"));
        for part in schema["allOf"].as_array().into_iter().flatten() {
            self.take_in(description, part);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::departures;
    use serde_json::json;

    #[test]
    fn what_is_missing_too_much_or_of_another_kind_is_found_at_its_place() {
        let description = json!({ "components": { "schemas": {
            "Reading": {
                "type": "object", "required": ["mm"],
                "properties": { "mm": { "type": "number" }, "side": { "enum": ["left"] } },
            },
        } } });
        let reading = json!({ "$ref": "#/components/schemas/Reading" });
        let list = json!({ "type": ["array", "null"], "items": reading });
        let count = |value| departures(&description, &list, &value).len();
        assert_eq!(count(json!([{ "mm": 1.5 }, { "mm": 2, "side": "left" }])), 0);
        assert_eq!(count(json!(null)), 0);
        assert_eq!(count(json!([{}])), 1);
        assert_eq!(count(json!([{ "mm": "2" }])), 1);
        assert_eq!(count(json!([{ "mm": 2, "side": "up", "cm": 1 }])), 2);
        assert_eq!(count(json!({})), 1);
        let both = json!({ "allOf": [reading, { "properties": { "cm": { "type": "integer" } } }] });
        assert!(departures(&description, &both, &json!({ "mm": 1, "cm": 1 })).is_empty());
        assert_eq!(departures(&description, &both, &json!({ "cm": 0.5, "in": 1 })).len(), 3);
    }
}
