//! A record's bytes to values (sqlite.org/fileformat2.html, section 2.1).

use rusqlite::types::Value;

use super::node::varint;

/// The values of a record, `None` for each that is no UTF-8; `None` if its bytes don't add up to a record.
pub(super) fn values(record: &[u8]) -> Option<Vec<Option<Value>>> {
    let (header, mut at) = varint(record)?;
    let header = usize::try_from(header).ok().filter(|&header| header >= at && header <= record.len())?;
    let mut body = header;
    let mut values = Vec::new();
    while at < header {
        let (kind, size) = varint(&record[at..header])?;
        at += size;
        let length = match kind {
            0 | 8 | 9 => 0,
            1..=4 => kind as usize,
            5 => 6,
            6 | 7 => 8,
            10 | 11 => return None,
            _ => usize::try_from((kind - 12) / 2).ok()?,
        };
        let bytes = record.get(body..body.checked_add(length)?)?;
        body += length;
        values.push(match kind {
            0 => Some(Value::Null),
            7 => Some(Value::Real(f64::from_bits(whole(bytes).cast_unsigned()))),
            1..=6 => Some(Value::Integer(whole(bytes))),
            8 | 9 => Some(Value::Integer(i64::from(kind == 9))),
            _ if kind % 2 == 0 => Some(Value::Blob(bytes.to_vec())),
            _ => std::str::from_utf8(bytes).ok().map(|text| Value::Text(text.to_owned())),
        });
    }
    (body == record.len() && !values.is_empty()).then_some(values)
}

/// A signed number, its highest byte first.
fn whole(bytes: &[u8]) -> i64 {
    let sign = if bytes.first().is_some_and(|&first| first >= 0x80) { -1 } else { 0 };
    bytes.iter().fold(sign, |value, &byte| value << 8 | i64::from(byte))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_read_and_records_that_do_not_add_up_are_not() {
        let record = [6, 0, 1, 2, 15, 9, 0xff, 0x01, 0x00, b'x'];
        let expected = [Value::Null, Value::Integer(-1), Value::Integer(256), Value::Text("x".to_owned())];
        let mut found = values(&record).unwrap();
        assert_eq!(found.pop(), Some(Some(Value::Integer(1))));
        assert_eq!(found, expected.map(Some));
        assert_eq!(values(&record[..9]), None);
        assert_eq!(values(&[record.as_slice(), &[0]].concat()), None);
        assert_eq!(values(&[2, 10]), None);
        assert_eq!(values(&[2, 15, 0xff]), Some(vec![None]));
        assert_eq!(values(&[]), None);
    }
}
