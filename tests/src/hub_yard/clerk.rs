//! Somebody at the office's page: what they ask the hub, and what it answers.

use super::Office;
use anyhow::{Context, Result, ensure};
use axum::body::{Body, to_bytes};
use axum::http::{Method, Request};
use evenwire_hub::router::router;
use serde_json::{Value, json};
use tower::ServiceExt;
use uuid::Uuid;

/// Bytes of an answer at most.
const MOST: usize = 16 * 1024 * 1024;
const PASSWORD: &str = "copper kettle";

/// The owner of the shop, signed in.
#[derive(Debug)]
pub struct Clerk {
    cookie: String,
    csrf: String,
}

impl Clerk {
    /// Comes in by the link of the first start, as `name`.
    ///
    /// # Errors
    /// The link is used.
    pub async fn comes_in(office: &Office, name: &str) -> Result<Clerk> {
        let token = office.hub().setup.clone().context("somebody was here before")?;
        let sent = json!({ "token": token, "name": name, "shop": "Lötauge & Sohn", "password": PASSWORD });
        let outside = Clerk { cookie: String::new(), csrf: String::new() };
        let (status, cookie, _) = outside.asks(office, (Method::POST, "/v1/office/set-up"), sent).await?;
        ensure!(status == 204, "{status}");
        let seated = Clerk { cookie, csrf: String::new() };
        let told = seated.reads(office, "/v1/office/session").await?;
        let csrf = told["person"]["csrf"].as_str().context("no session")?.to_owned();
        Ok(Clerk { csrf, ..seated })
    }

    /// Reads something.
    ///
    /// # Errors
    /// It is not shown.
    pub async fn reads(&self, office: &Office, path: &str) -> Result<Value> {
        let (status, _, body) = self.asks(office, (Method::GET, path), Value::Null).await?;
        ensure!(status == 200, "{path}: {status} {body}");
        Ok(body)
    }

    /// What waits for a second person in the first version of a job.
    ///
    /// # Errors
    /// The job is not here.
    pub async fn waiting(&self, office: &Office, job: Uuid) -> Result<Value> {
        Ok(self.reads(office, &format!("/v1/jobs/{job}")).await?["versions"][0]["seconds"].clone())
    }

    /// Signs what is seen of a step in the first version of a job; the code where it is refused.
    ///
    /// # Errors
    /// The job is not here.
    pub async fn signs(&self, office: &Office, (job, step): (Uuid, &str)) -> Result<Result<(), String>> {
        let record = self.reads(office, &format!("/v1/jobs/{job}")).await?;
        let version = &record["versions"][0];
        let seen = version["seconds"].as_array().into_iter().flatten().find(|second| second["waits"]["step"] == step);
        let doing = seen.map_or(json!(1), |second| second["waits"]["doing"].clone());
        let sent = json!({
            "device": version["device"], "step": step, "doing": doing, "entries": version["entries"], "password": PASSWORD,
        });
        let path = format!("/v1/jobs/{job}/signatures");
        let (status, _, body) = self.asks(office, (Method::POST, &path), sent).await?;
        let code = body["code"].as_str().unwrap_or_default().to_owned();
        Ok(if status == 204 { Ok(()) } else { Err(code) })
    }

    async fn asks(&self, office: &Office, (method, path): (Method, &str), body: Value) -> Result<(u16, String, Value)> {
        let asked = Request::builder().method(method).uri(path).header("content-type", "application/json");
        let asked = asked.header("cookie", &self.cookie).header("x-evenwire-csrf", &self.csrf);
        let asked = asked.body(Body::from(serde_json::to_vec(&body)?))?;
        let answer = router(office.hub().app.clone()).oneshot(asked).await.context("a router answers")?;
        let status = answer.status().as_u16();
        let cookie = answer.headers().get("set-cookie").and_then(|cookie| cookie.to_str().ok()).unwrap_or_default();
        let cookie = cookie.split(';').next().unwrap_or_default().to_owned();
        let bytes = to_bytes(answer.into_body(), MOST).await?;
        Ok((status, cookie, serde_json::from_slice(&bytes).unwrap_or_default()))
    }
}
