//! What a person does with the fields of a page: finds them by what stands beside them, types, ticks, hands a file over.

use super::{ELEMENT, Window};
use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};
use std::path::Path;

/// How often a box is clicked at most until it is ticked: a page that moves lets a click land beside it.
const CLICKS: usize = 5;
/// Scrolls an element to the middle and tells whether it can be reached there.
const TO_THE_MIDDLE: &str = "const [element] = arguments;
element.scrollIntoView({ block: 'center', behavior: 'instant' });
const { x, y, width, height } = element.getBoundingClientRect();
const there = document.elementFromPoint(x + width / 2, y + height / 2);
return element.contains(there);";
/// What the driver says of an element that something else lies over.
const COVERED: [&str; 2] = ["element click intercepted", "element not interactable"];
/// Gives the shown field with the shortest label that begins with these words, or null.
const FIELD: &str = "const [words] = arguments;
const says = (label) => label.innerText.trim();
const shown = (e) => e.checkVisibility({ visibilityProperty: true });
const labels = [...document.querySelectorAll('label')].filter((l) => l.control && shown(l) && says(l).startsWith(words));
labels.sort((a, b) => says(a).length - says(b).length);
return labels[0]?.control ?? null;";
impl Window {
    /// There is a field with a label that begins with these words.
    ///
    /// # Errors
    /// When the window is gone.
    pub fn has_field(&self, label: &str) -> Result<bool> {
        Ok(!self.run(FIELD, &[json!(label)])?.is_null())
    }

    /// Types `text` into the field with this label, over what stood there.
    ///
    /// # Errors
    /// When there is none, or it takes no keys.
    pub fn write(&self, label: &str, text: &str) -> Result<()> {
        let field = self.run(FIELD, &[json!(label)])?;
        self.keys(&field, text).with_context(|| format!("the field {label:?}"))
    }

    /// Types one text into each of the fields at `css`, in their order; none is left over.
    ///
    /// # Errors
    /// When there are more or fewer fields than texts.
    pub fn write_each(&self, css: &str, texts: &[&str]) -> Result<()> {
        let fields = self.run("return [...document.querySelectorAll(arguments[0])]", &[json!(css)])?;
        let fields = fields.as_array().context("a list of elements")?;
        ensure!(fields.len() == texts.len(), "{} fields at `{css}` for {texts:?}", fields.len());
        fields.iter().zip(texts).try_for_each(|(field, text)| self.keys(field, text))
    }

    /// Ticks the box or chooses the point with this label.
    ///
    /// # Errors
    /// When there is none, or it does not take it.
    pub fn tick(&self, label: &str) -> Result<()> {
        for _ in 0..CLICKS {
            let field = self.run(FIELD, &[json!(label)])?;
            let is_ticked = self.run("return arguments[0]?.checked ?? null", std::slice::from_ref(&field))?;
            match is_ticked.as_bool() {
                Some(true) => return Ok(()),
                // Beside it, or under something: the next look tells.
                Some(false) => drop(self.click_at(id(&field)?)),
                None => break,
            }
        }
        anyhow::bail!("{label:?} is not ticked")
    }

    /// Hands `file` to the file field at `css`, as the window that chooses files would.
    ///
    /// # Errors
    /// When there is none, or the driver cannot.
    pub fn hand_over(&self, css: &str, file: &Path) -> Result<()> {
        let field = self.run("return document.querySelector(arguments[0])", &[json!(css)])?;
        let path = file.to_str().context("a path of letters")?;
        self.post(&format!("element/{}/value", id(&field)?), &json!({"text": path})).map(drop)
    }

    /// Waits until `script`, which gets `given`, returns something true; it is asked in the page again and again.
    ///
    /// # Errors
    /// When patience ends.
    pub fn until(&self, script: &str, given: &[Value]) -> Result<()> {
        let watch = format!(
            "const given = [...arguments]; const done = given.pop(); const asked = function () {{ {script} }};
const look = () => {{ if (asked.apply(null, given)) done(true); else requestAnimationFrame(look); }};
look();"
        );
        self.post("execute/async", &json!({"script": watch, "args": given})).map(drop)
    }

    /// Clicks an element; what lies under a bar at the edge of the page is moved to its middle first, as a person would.
    pub(super) fn click_at(&self, id: &str) -> Result<Value> {
        let click = || self.post(&format!("element/{id}/click"), &json!({}));
        let lies_under = |said: &str| COVERED.iter().any(|kind| said.starts_with(kind));
        match click() {
            Err(fault) if lies_under(&fault.to_string()) => {
                self.bring_to_the_middle(&json!({ ELEMENT: id }))?;
                click()
            }
            done => done,
        }
    }

    /// A page that moves by itself meanwhile is asked again until nothing lies over the element.
    fn bring_to_the_middle(&self, element: &Value) -> Result<()> {
        self.until(TO_THE_MIDDLE, std::slice::from_ref(element)).context("something lies over it")
    }

    fn keys(&self, field: &Value, text: &str) -> Result<()> {
        let id = id(field)?;
        self.bring_to_the_middle(field)?;
        self.post(&format!("element/{id}/clear"), &json!({}))?;
        self.post(&format!("element/{id}/value"), &json!({"text": text})).map(drop)
    }
}

fn id(field: &Value) -> Result<&str> {
    field[ELEMENT].as_str().context("there is no such field")
}
