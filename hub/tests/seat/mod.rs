//! People at the office's page, over TLS.

#![allow(dead_code, reason = "each test file uses some of it")]

use super::shop::Shop;
use evenwire_hub::tls::HOST;
use reqwest::{Client, Method, RequestBuilder, StatusCode};
use serde_json::{Value, json};

pub const PASSWORD: &str = "copper kettle";

/// Somebody at the page.
pub struct Seat {
    pub client: Client,
    host: String,
    port: u16,
    pub cookie: String,
    pub csrf: String,
}

/// What came back.
pub struct Came {
    pub status: StatusCode,
    pub headers: reqwest::header::HeaderMap,
    pub bytes: Vec<u8>,
    pub body: Value,
}

impl Came {
    pub fn code(&self) -> &str {
        self.body["code"].as_str().unwrap_or_default()
    }
}

impl Seat {
    pub fn outside(shop: &Shop) -> Seat {
        Seat::at(shop.client(), (HOST, shop.hub().listens.port()))
    }

    /// Somebody before the page of whoever answers at that name and port.
    pub fn at(client: Client, (host, port): (&str, u16)) -> Seat {
        Seat { client, host: host.to_owned(), port, cookie: String::new(), csrf: String::new() }
    }

    /// Somebody else before the same page.
    pub fn another(&self) -> Seat {
        Seat::at(self.client.clone(), (&self.host, self.port))
    }

    /// Whoever has this seat's cookie, showing another token.
    pub fn showing(&self, shop: &Shop, csrf: &str) -> Seat {
        Seat { csrf: csrf.to_owned(), cookie: self.cookie.clone(), ..Seat::outside(shop) }
    }

    /// A request with what this seat shows.
    pub fn request(&self, method: Method, path: &str) -> RequestBuilder {
        let mut request = self.client.request(method, format!("https://{}:{}{path}", self.host, self.port));
        for (name, value) in [("cookie", &self.cookie), ("x-evenwire-csrf", &self.csrf)] {
            if !value.is_empty() {
                request = request.header(name, value);
            }
        }
        request
    }

    /// What this seat shows, at the page of another shop.
    pub fn cookie_at(&self, there: &Seat) -> Seat {
        Seat { cookie: self.cookie.clone(), csrf: self.csrf.clone(), ..there.another() }
    }

    pub fn with_cookie(self, cookie: &str) -> Seat {
        Seat { cookie: cookie.to_owned(), ..self }
    }

    /// This seat's cookie alone.
    pub fn without_token(&self) -> Seat {
        self.another().with_cookie(&self.cookie)
    }

    pub async fn ask(&self, method: Method, path: &str, body: Option<Value>) -> Came {
        let request = self.request(method, path);
        let request = match body {
            Some(body) => request.json(&body),
            None => request,
        };
        let response = request.send().await.unwrap();
        let (status, headers) = (response.status(), response.headers().clone());
        let bytes = response.bytes().await.unwrap().to_vec();
        let body = serde_json::from_slice(&bytes).unwrap_or(Value::Null);
        Came { status, headers, bytes, body }
    }

    pub async fn look(&self, path: &str) -> Came {
        self.ask(Method::GET, path, None).await
    }

    pub async fn get(&self, path: &str) -> Value {
        let came = self.look(path).await;
        assert_eq!(came.status, StatusCode::OK, "{path}: {}", came.body);
        came.body
    }

    pub async fn post(&self, path: &str, body: Value) -> Came {
        self.ask(Method::POST, path, Some(body)).await
    }

    pub async fn done(&self, path: &str, body: Value) {
        let came = self.post(path, body).await;
        assert_eq!(came.status, StatusCode::NO_CONTENT, "{path}: {}", came.body);
    }

    /// Takes the cookie that came, and asks for what goes with it.
    pub async fn sit(&mut self, came: Came) {
        assert_eq!(came.status, StatusCode::NO_CONTENT, "{}", came.body);
        let cookie = came.headers["set-cookie"].to_str().unwrap().to_owned();
        self.cookie = cookie.split(';').next().unwrap().to_owned();
        self.csrf = self.get("/v1/office/session").await["person"]["csrf"].as_str().unwrap().to_owned();
    }

    pub async fn sign_in(shop: &Shop, name: &str) -> Seat {
        let mut seat = Seat::outside(shop);
        let came = seat.post("/v1/office/sign-in", json!({ "name": name, "password": PASSWORD })).await;
        seat.sit(came).await;
        seat
    }

    /// Somebody the owner adds, who chose a password by the link.
    pub async fn added(&self, _: &Shop, name: &str, role: &str) -> Seat {
        self.adds(name, role).await
    }

    /// The same at whatever page this is.
    pub async fn adds(&self, name: &str, role: &str) -> Seat {
        let link = self.post("/v1/office/people", json!({ "name": name, "role": role })).await;
        let mut seat = self.another();
        let came = seat.post("/v1/office/set-up", set_up(link.body["token"].as_str().unwrap(), "")).await;
        seat.sit(came).await;
        seat
    }

    /// This one comes in by the first link and is the owner.
    pub async fn comes_in(mut self, token: &str) -> Seat {
        let came = self.post("/v1/office/set-up", set_up(token, "Toma Quell")).await;
        self.sit(came).await;
        self
    }

    /// The id of somebody of the office.
    pub async fn id_of(&self, name: &str) -> String {
        let people = self.get("/v1/office/people").await;
        let found = people.as_array().unwrap().iter().find(|person| person["name"] == name).unwrap();
        found["person"].as_str().unwrap().to_owned()
    }
}

pub fn set_up(token: &str, name: &str) -> Value {
    json!({ "token": token, "name": name, "shop": "Lötauge & Sohn", "password": PASSWORD })
}

/// A shop whose owner came in by the first link.
pub async fn begun(shop: &Shop) -> Seat {
    let token = shop.hub().setup.clone().unwrap();
    Seat::outside(shop).comes_in(&token).await
}
