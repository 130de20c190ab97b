//! What an answer means.

use crate::Failure;
use reqwest::StatusCode;
use std::time::Duration;

/// Longest wish to be left alone that is granted: an alarm grows old.
const LONGEST_WISH: Duration = Duration::from_secs(600);

pub(super) fn later(reason: String, after: Option<Duration>) -> Result<(), Failure> {
    Err(Failure::Later { reason, after })
}

/// `at` is the receiver's place, `entry` the webhook's in the configuration.
pub(super) fn judge(
    status: StatusCode,
    after: Option<Duration>,
    at: &str,
    entry: &str,
) -> Result<(), Failure> {
    let said = format!("{at} answers {status}");
    match status {
        s if s.is_success() => Ok(()),
        s if s.is_redirection() => {
            later(format!("{said}: redirects are not followed; put the new address into {entry} url"), None)
        }
        StatusCode::GONE => Err(Failure::Never(format!(
            "{said}: it wants no more of these; remove {entry} or put a new address into its url"
        ))),
        _ => later(format!("{said}{}", cure(status, entry)), after),
    }
}

fn cure(status: StatusCode, entry: &str) -> String {
    match status {
        StatusCode::UNAUTHORIZED | StatusCode::FORBIDDEN => {
            format!("; check that {entry} secret_file or its headers hold what the receiver gave out")
        }
        StatusCode::NOT_FOUND => format!("; correct {entry} url"),
        StatusCode::METHOD_NOT_ALLOWED => format!("; correct {entry} url or method"),
        StatusCode::BAD_REQUEST | StatusCode::UNSUPPORTED_MEDIA_TYPE | StatusCode::UNPROCESSABLE_ENTITY => {
            format!("; check that {entry} template and content_type make what the receiver wants")
        }
        _ => String::new(),
    }
}

/// Seconds of a Retry-After header (RFC 9110, 10.2.3); a date in it is not read.
pub(super) fn retry_after(answer: &reqwest::Response) -> Option<Duration> {
    let seconds = answer.headers().get("retry-after")?.to_str().ok()?.trim().parse().ok()?;
    Some(Duration::from_secs(seconds).min(LONGEST_WISH))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(status: u16, after: Option<u64>) -> Result<(), Failure> {
        let status = StatusCode::from_u16(status).unwrap();
        judge(status, after.map(Duration::from_secs), "tank-room:8080", "[[webhook]] siren")
    }

    #[test]
    fn every_answer_of_the_200s_is_a_delivery() {
        for status in [200, 202, 204, 299] {
            assert_eq!(judged(status, None), Ok(()), "{status}");
        }
    }

    #[test]
    fn busy_and_broken_receivers_are_asked_later_and_not_before_they_wish() {
        for status in [408, 429, 500, 502, 503, 504] {
            let Err(Failure::Later { reason, after }) = judged(status, Some(120)) else { panic!("{status}") };
            assert!(reason.starts_with(&format!("tank-room:8080 answers {status}")), "{reason}");
            assert_eq!(after, Some(Duration::from_secs(120)));
        }
    }

    #[test]
    fn what_can_be_mended_in_the_configuration_is_named_and_tried_again() {
        for (status, cure) in [
            (400, "template"),
            (401, "secret_file"),
            (403, "secret_file"),
            (404, "url"),
            (405, "method"),
            (415, "content_type"),
            (422, "template"),
        ] {
            let Err(Failure::Later { reason, .. }) = judged(status, None) else { panic!("{status}") };
            assert!(reason.contains("[[webhook]] siren") && reason.contains(cure), "{reason}");
        }
    }

    #[test]
    fn gone_is_never() {
        let Err(Failure::Never(reason)) = judged(410, None) else { panic!() };
        assert!(reason.contains("remove [[webhook]] siren"), "{reason}");
    }
}
