//! Part of a file, as a player asks for it (RFC 9110, section 14).

/// What a `Range` header wants of a file of some length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wanted {
    /// All of it: no range, or one that is not to be heeded.
    All,
    /// These bytes, both ends included.
    Part(usize, usize),
    /// Bytes that the file does not have.
    Beyond,
}

/// Reads a `Range` header. Several ranges at once are not heeded, which the standard allows.
pub(super) fn wanted(header: Option<&str>, length: usize) -> Wanted {
    let Some(range) = header.and_then(|h| h.trim().strip_prefix("bytes=")) else {
        return Wanted::All;
    };
    let Some((first, last)) = range.trim().split_once('-') else {
        return Wanted::All;
    };
    let end = length.saturating_sub(1);
    let number = |text: &str| text.trim().parse::<usize>();
    match (number(first), number(last), last.trim().is_empty()) {
        (Ok(first), _, true) if first < length => Wanted::Part(first, end),
        (Ok(first), Ok(last), _) if first <= last && first < length => {
            Wanted::Part(first, last.min(end))
        }
        (Ok(first), Ok(last), _) if first > last => Wanted::All,
        (Ok(_), Ok(_), _) | (Ok(_), _, true) => Wanted::Beyond,
        (Err(_), Ok(0), _) if first.trim().is_empty() => Wanted::Beyond,
        (Err(_), Ok(_), _) if first.trim().is_empty() && length == 0 => Wanted::Beyond,
        (Err(_), Ok(last), _) if first.trim().is_empty() => {
            Wanted::Part(length.saturating_sub(last), end)
        }
        _ => Wanted::All,
    }
}

#[cfg(test)]
mod tests {
    use super::{Wanted, wanted};

    #[test]
    fn ranges_are_read_as_the_standard_has_them() {
        // RFC 9110, 14.1.2: the examples for a representation of 10,000 bytes.
        for (header, is) in [
            ("bytes=0-499", Wanted::Part(0, 499)),
            ("bytes=500-999", Wanted::Part(500, 999)),
            ("bytes=-500", Wanted::Part(9_500, 9_999)),
            ("bytes=9500-", Wanted::Part(9_500, 9_999)),
            ("bytes=9999-20000", Wanted::Part(9_999, 9_999)),
            ("bytes=-20000", Wanted::Part(0, 9_999)),
            ("bytes=10000-", Wanted::Beyond),
            ("bytes=10000-10001", Wanted::Beyond),
            ("bytes=-0", Wanted::Beyond),
            ("bytes=5-4", Wanted::All),
            ("bytes=0-0,-1", Wanted::All),
            ("bytes=-", Wanted::All),
            ("bytes=a-b", Wanted::All),
            ("lines=0-4", Wanted::All),
        ] {
            assert_eq!(wanted(Some(header), 10_000), is, "{header}");
        }
        assert_eq!(wanted(None, 10), Wanted::All);
        assert_eq!(wanted(Some("bytes=-5"), 0), Wanted::Beyond);
    }
}
