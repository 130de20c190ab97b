//! Passwords: which will do, how they are kept, and how they are checked.

use crate::keeper::Trouble;
use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use tokio::sync::Semaphore;
use unicode_normalization::UnicodeNormalization;

/// Fewest letters. NIST SP 800-63B-4 (2025), 3.1.1.2, for a password that is the only proof; it also asks for no rules of
/// composition, no change without cause, at least 64 letters allowed, and each Unicode code point counted as one.
pub const SHORTEST: usize = 15;
/// Most letters: the same chapter asks for at least 64, and something must bound the work.
pub const LONGEST: usize = 256;
/// Checks that may wait; more are turned away, so that a flood costs neither memory nor the owner's patience.
const WAITING: usize = 8;

/// Long passwords that everybody tries first, and pieces that such passwords are repetitions of. The chapter asks for a list
/// like that; few of those in use are longer than fifteen letters.
const COMMON: [&str; 12] = [
    "password",
    "passwort",
    "123456",
    "1234567890",
    "0123456789",
    "qwertyuiop",
    "asdfghjkl",
    "abcdefghijklmnopqrstuvwxyz",
    "letmein",
    "iloveyou",
    "hatchwarden",
    "fishroom",
];

/// Says why a password will not do for a person.
///
/// # Errors
/// What is wrong, and the cure.
pub fn will_do(password: &str, name: &str) -> Result<(), String> {
    let letters = password.nfkc().count();
    if letters < SHORTEST {
        return Err(format!(
            "{letters} letters are too few; take at least {SHORTEST}, e.g. four words that do not belong together"
        ));
    }
    if letters > LONGEST {
        return Err(format!("{letters} letters are too many; take at most {LONGEST}"));
    }
    if password.chars().any(char::is_control) {
        return Err("it has a letter that cannot be typed; leave that out".to_owned());
    }
    let small = password.to_lowercase();
    let name = name.trim().to_lowercase();
    let own = (name.chars().count() > 2).then_some(name.as_str());
    // What is left when all that is worn has been taken out.
    let rest = COMMON.into_iter().chain(own).fold(small.clone(), |rest, piece| rest.replace(piece, ""));
    if few_letters(&small) || rest.chars().count() < 6 {
        return Err(
            "it is one of those that are tried first; take four words that do not belong together".to_owned()
        );
    }
    Ok(())
}

/// Whether it is made of fewer than five different letters.
fn few_letters(text: &str) -> bool {
    text.chars().collect::<std::collections::BTreeSet<_>>().len() < 5
}

/// The same letters, however a keyboard composes them (NIST SP 800-63B-4, 3.1.1.2: normalised before hashing).
fn bytes(password: &str) -> Vec<u8> {
    password.nfkc().collect::<String>().into_bytes()
}

/// What is kept of a password: argon2id (RFC 9106) with the crate's own parameters, 19 MiB and two passes, as OWASP's cheat
/// sheet on password storage has them. Takes some hundredths of a second; blocks.
///
/// # Errors
/// The system gives no random numbers.
pub fn hash(password: &str) -> Result<String, String> {
    let hash: PasswordHash = Argon2::default()
        .hash_password(&bytes(password))
        .map_err(|e| format!("the password could not be hashed: {e}; try again"))?;
    Ok(hash.to_string())
}

/// Whether a password is the one of a hash. Blocks as long as [`hash`].
pub fn is_right(password: &str, kept: &str) -> bool {
    PasswordHash::new(kept)
        .is_ok_and(|kept| Argon2::default().verify_password(&bytes(password), &kept).is_ok())
}

/// Checks passwords on threads that may block, few at a time.
pub(crate) struct Checker {
    /// What an unknown name is checked against, so that it takes as long as a known one.
    nobody: String,
    strangers: Arc<Semaphore>,
    known: Arc<Semaphore>,
    waiting: AtomicUsize,
    checked: Arc<AtomicU64>,
}

impl Checker {
    /// One at a time for devices that nobody has signed in from, and one for those that are known: strangers cannot keep
    /// the owner waiting.
    pub(crate) fn new() -> Self {
        let one = || Arc::new(Semaphore::new(1));
        // A hash of nothing that could be typed. Without random numbers nobody is let in: no password is right then.
        let nobody = hash("\u{0}nobody at all").unwrap_or_default();
        let (waiting, checked) = (AtomicUsize::new(0), Arc::default());
        Self { nobody, strangers: one(), known: one(), waiting, checked }
    }

    /// How many passwords have been hashed for checking.
    pub(crate) fn checked(&self) -> u64 {
        self.checked.load(Ordering::Relaxed)
    }

    /// Whether the password is right; `kept` is `None` for a name that nobody has.
    ///
    /// # Errors
    /// [`Trouble::Unable`] when too many are being checked.
    pub(crate) async fn check(
        &self,
        password: String,
        kept: Option<String>,
        known: bool,
    ) -> Result<bool, Trouble> {
        let busy = || {
            Trouble::Unable("too many passwords are being checked just now; try again in a moment".to_owned())
        };
        if !known && self.waiting.fetch_add(1, Ordering::Relaxed) >= WAITING {
            self.waiting.fetch_sub(1, Ordering::Relaxed);
            return Err(busy());
        }
        let door = if known { &self.known } else { &self.strangers };
        let permit = door.clone().acquire_owned().await;
        if !known {
            self.waiting.fetch_sub(1, Ordering::Relaxed);
        }
        let permit = permit.map_err(|_| busy())?;
        let (somebody, counter) = (kept.is_some(), self.checked.clone());
        let kept = kept.unwrap_or_else(|| self.nobody.clone());
        let work = tokio::task::spawn_blocking(move || {
            // Held until the work is done, even if nobody waits for it any more.
            let _permit = permit;
            counter.fetch_add(1, Ordering::Relaxed);
            is_right(&password, &kept)
        });
        work.await.map(|right| right && somebody).map_err(|_| busy())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use argon2::{Algorithm, AssociatedData, ParamsBuilder, Version};

    /// RFC 9106, 5.3: the test vector of Argon2id.
    #[test]
    fn argon2id_gives_the_tag_of_rfc_9106() {
        let params = ParamsBuilder::new()
            .m_cost(32)
            .t_cost(3)
            .p_cost(4)
            .data(AssociatedData::new(&[4; 12]).unwrap())
            .build()
            .unwrap();
        let argon2 = Argon2::new_with_secret(&[3; 8], Algorithm::Argon2id, Version::V0x13, params).unwrap();
        let mut tag = [0; 32];
        argon2.hash_password_into(&[1; 32], &[2; 16], &mut tag).unwrap();
        let expected = "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659";
        assert_eq!(tag.iter().map(|b| format!("{b:02x}")).collect::<String>(), expected);
    }

    /// Parameters: OWASP's cheat sheet on password storage, 19 MiB, two passes, one lane.
    #[test]
    fn what_is_kept_is_argon2id_with_a_salt_of_its_own() {
        let (one, two) = (hash("correct horse battery").unwrap(), hash("correct horse battery").unwrap());
        assert!(one.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{one}");
        assert_ne!(one, two);
        assert!(is_right("correct horse battery", &one));
        assert!(!is_right("correct horse batterz", &one) && !is_right("", &one) && !is_right("x", "no hash"));
    }

    #[test]
    fn letters_are_the_same_however_they_are_composed() {
        let kept = hash("f\u{fc}nfzehn b\u{fc}cher").unwrap();
        assert!(is_right("fu\u{308}nfzehn bu\u{308}cher", &kept));
    }

    #[test]
    fn long_ones_will_do_and_worn_ones_will_not() {
        for good in [
            "correct horse battery",
            "fifteen letters",
            "\u{1f420}\u{1f41f} swim by at night",
            &"ab cd ef ".repeat(28),
        ] {
            assert_eq!(will_do(good, "Ada"), Ok(()), "{good}");
        }
        for (bad, said) in [
            ("fourteen chars", "14 letters are too few"),
            (&"ab cd ef ".repeat(29), "261 letters are too many"),
            ("passwordpassword", "tried first"),
            ("Password1234567890", "tried first"),
            ("aaaaaaaaaaaaaaaaaaaa", "tried first"),
            ("Johanna johanna!", "tried first"),
            ("tab\tbed and breakfast", "cannot be typed"),
        ] {
            let why = will_do(bad, "Johanna").unwrap_err();
            assert!(why.contains(said), "{bad}: {why}");
        }
    }

    #[tokio::test]
    async fn an_unknown_name_costs_a_hash_too() {
        let checker = Checker::new();
        assert!(!checker.check("\u{0}nobody at all".to_owned(), None, false).await.unwrap());
        assert_eq!(checker.checked(), 1);
    }
}
