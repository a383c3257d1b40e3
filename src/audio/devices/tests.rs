use super::*;

fn names() -> Vec<(String, String)> {
    [
        ("Built-in microphone", "host:pci-0"),
        ("Headset A mono", "host:usb-a"),
        ("Headset B mono", "host:usb-b"),
    ]
    .map(|(name, id)| (name.to_owned(), id.to_owned()))
    .to_vec()
}

#[test]
fn a_device_is_picked_by_id_name_or_part() {
    let pick = |wanted| pick(&names(), "microphone", wanted);
    assert_eq!(pick("host:usb-b"), Ok(2));
    assert_eq!(pick("usb-b"), Ok(2));
    assert_eq!(pick("headset a MONO"), Ok(1));
    assert_eq!(pick("built"), Ok(0));
    let error = pick("headset").unwrap_err().to_string();
    assert!(
        error.contains("Headset A") && error.contains("Headset B"),
        "{error}"
    );
    let error = pick("lapel").unwrap_err().to_string();
    assert!(
        error.contains("Built-in") && error.contains("lapel"),
        "{error}"
    );
}

#[test]
fn no_device_at_all_is_told() {
    let error = pick(&[], "microphone", "any").unwrap_err().to_string();
    assert!(error.contains("connect a headset"), "{error}");
}
