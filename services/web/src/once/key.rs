//! Reading the key, and what makes two requests the same.

use crate::access::Hash;
use crate::access::who::Asker;
use crate::problem::Problem;
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode};
use sha2::{Digest, Sha256};

pub(crate) const HEADER: &str = "idempotency-key";
/// Longest key, letters.
pub(crate) const LONGEST_KEY: usize = 200;

/// The key of a request.
///
/// The draft writes a string of structured fields (RFC 9651), in quotes; a bare token is taken as well, since many programs send that.
pub(super) fn read(headers: &HeaderMap) -> Result<Option<String>, Problem> {
    let mut sent = headers.get_all(HEADER).iter();
    let Some(first) = sent.next() else { return Ok(None) };
    let text = first.to_str().ok().map(str::trim).filter(|_| sent.next().is_none());
    let key = text.and_then(|t| t.strip_prefix('"').map_or_else(|| bare(t), quoted));
    let fits = |k: &String| (1..=LONGEST_KEY).contains(&k.len());
    key.filter(fits).map(Some).ok_or_else(|| {
        let said = format!(
            "the header Idempotency-Key will not do; send one of 1 to {LONGEST_KEY} ASCII letters, in quotes or bare, such as \"8e03978e-40d5-43dd\""
        );
        Problem::new(StatusCode::BAD_REQUEST, said).about(HEADER)
    })
}

fn bare(text: &str) -> Option<String> {
    let fits = |b: u8| b.is_ascii_alphanumeric() || b"_.~:/+=-".contains(&b);
    text.bytes().all(fits).then(|| text.to_owned())
}

/// What stands behind the first quote: RFC 9651, 3.3.3.
fn quoted(text: &str) -> Option<String> {
    let mut key = String::new();
    let mut letters = text.chars();
    loop {
        match letters.next()? {
            '"' => break,
            '\\' => key.push(letters.next().filter(|c| matches!(c, '"' | '\\'))?),
            c @ ' '..='~' => key.push(c),
            _ => return None,
        }
    }
    letters.next().is_none().then_some(key)
}

/// Of who asks and the key: the same key of somebody else is another one.
pub(super) fn of(asker: Option<&Asker>, key: &str) -> Hash {
    let who = match asker {
        Some(Asker { person: Some(person), .. }) => format!("person {person}"),
        Some(Asker { token: Some(token), .. }) => format!("token {token}"),
        _ => "machine".to_owned(),
    };
    Sha256::digest(format!("{who}\n{key}")).into()
}

/// Of what is asked: method, address, kind of body, body.
pub(super) fn fingerprint(parts: &Parts, body: &[u8]) -> Hash {
    let kind = parts.headers.get(axum::http::header::CONTENT_TYPE);
    let mut hash = Sha256::new();
    for piece in [
        parts.method.as_str().as_bytes(),
        parts.uri.to_string().as_bytes(),
        kind.map_or(&b""[..], axum::http::HeaderValue::as_bytes),
    ] {
        hash.update(piece);
        hash.update(b"\n");
    }
    hash.update(body);
    hash.finalize().into()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(text: &str) -> Option<String> {
        let mut headers = HeaderMap::new();
        headers.insert(HEADER, text.parse().unwrap());
        read(&headers).unwrap_or(None)
    }

    #[test]
    fn a_key_is_read_in_quotes_and_bare() {
        assert_eq!(read(&HeaderMap::new()).unwrap(), None);
        assert_eq!(key("8e03978e-40d5-43dd"), key("\"8e03978e-40d5-43dd\""));
        assert_eq!(key(r#""a \"b\" \\ c""#).unwrap(), r#"a "b" \ c"#);
        assert_eq!(key(&"x".repeat(200)).unwrap().len(), 200);
        let long = "x".repeat(201);
        for bad in [
            "",
            "\"\"",
            "\"open",
            "\"a\";b=1",
            "a,b",
            "a b",
            "{}",
            "[0]",
            r#""\n""#,
            "\"a\" \"b\"",
            "é",
            &long,
        ] {
            assert_eq!(key(bad), None, "{bad}");
        }
        let mut two = HeaderMap::new();
        two.append(HEADER, "a".parse().unwrap());
        two.append(HEADER, "a".parse().unwrap());
        assert!(read(&two).is_err());
    }
}
