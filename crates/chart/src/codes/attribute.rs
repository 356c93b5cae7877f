//! A code as a file holds it: text or number, set or not.

use serde_json::Value;

/// Takes a code from an attribute.
///
/// # Returns
///
/// Nothing where the attribute is absent, empty or -9, each of which files use for "not set".
///
/// # Errors
///
/// What the attribute is, where it is neither a whole number from -9 nor text of one.
pub(crate) fn code_of(value: Option<&Value>) -> Result<Option<u8>, String> {
    let number = match value {
        None | Some(Value::Null) => return Ok(None),
        Some(Value::String(text)) => match text.trim() {
            "" => return Ok(None),
            // Some writers keep codes in a column of decimal numbers.
            text => text.parse::<f64>().map_err(|_| format!("`{text}` is not a code"))?,
        },
        Some(Value::Number(number)) => {
            number.as_f64().ok_or_else(|| format!("`{number}` is not a code"))?
        }
        Some(other) => return Err(format!("`{other}` is not a code")),
    };
    if number == -9.0 {
        Ok(None)
    } else if (0.0..=99.0).contains(&number) && number.fract() == 0.0 {
        Ok(Some(number as u8))
    } else {
        Err(format!("`{number}` is not a code of two digits"))
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn codes_are_text_or_numbers_and_may_be_absent() {
        let code = |value: Value| code_of(Some(&value));
        assert_eq!(code(json!("01")), Ok(Some(1)));
        assert_eq!(code(json!(" 91 ")), Ok(Some(91)));
        assert_eq!(code(json!(46)), Ok(Some(46)));
        assert_eq!(code(json!("46.0")), Ok(Some(46)));
        for unset in [json!("-9"), json!(-9), json!(-9.0), json!(""), json!(" "), json!(null)] {
            assert_eq!(code(unset), Ok(None));
        }
        assert_eq!(code_of(None), Ok(None));
        for bad in
            [json!("ice"), json!(-1), json!(100), json!(4.5), json!([4]), json!("NaN"), json!(true)]
        {
            assert!(code(bad.clone()).is_err(), "{bad}");
        }
    }
}
