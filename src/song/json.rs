//! How a song map's JSON is laid out: for a person to open and find a beat in.
//!
//! Objects are indented, except those that are items of a list, which take one line each. Numbers in a
//! list stand ten to a row. Fractions are rounded to four decimals, a tenth of a millisecond.

use std::io::{self, Write};

use serde_json::ser::Formatter;

const ROW: usize = 10;

/// The layout.
#[derive(Default)]
pub(super) struct ByHand {
    /// What is open, outermost first.
    open: Vec<Open>,
    /// A list item is about to be written; whether it is the first, and on what line depends on it.
    item: bool,
}

struct Open {
    list: bool,
    /// All on one line.
    flat: bool,
    items: usize,
}

impl ByHand {
    fn flat(&self) -> bool {
        self.open.last().is_some_and(|open| open.flat)
    }

    fn new_line<W: ?Sized + Write>(&self, out: &mut W, depth: usize) -> io::Result<()> {
        out.write_all(b"\n")?;
        (0..depth).try_for_each(|_| out.write_all(b"  "))
    }

    /// Goes to where the next value stands, which in a list depends on what it is.
    fn place<W: ?Sized + Write>(&mut self, out: &mut W, number: bool) -> io::Result<()> {
        if !std::mem::take(&mut self.item) {
            return Ok(());
        }
        let depth = self.open.len();
        let Some(list) = self.open.last_mut() else {
            return Ok(());
        };
        list.items += 1;
        let first = list.items == 1;
        if !first {
            out.write_all(b",")?;
        }
        let breaks =
            if number { (list.items - 1).is_multiple_of(ROW) && !list.flat } else { !list.flat };
        match breaks {
            true => self.new_line(out, depth),
            false if first => Ok(()),
            false => out.write_all(b" "),
        }
    }

    fn number<W: ?Sized + Write>(&mut self, out: &mut W, text: &str) -> io::Result<()> {
        self.place(out, true)?;
        out.write_all(text.as_bytes())
    }

    fn opens<W: ?Sized + Write>(&mut self, out: &mut W, list: bool) -> io::Result<()> {
        let in_list = self.open.last().is_some_and(|open| open.list);
        self.place(out, false)?;
        let flat = self.flat() || (in_list && !list);
        self.open.push(Open { list, flat, items: 0 });
        out.write_all(if list { b"[" } else { b"{" })
    }

    fn closes<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        let Some(closed) = self.open.pop() else {
            return Ok(());
        };
        if closed.items > 0 && !closed.flat {
            self.new_line(out, self.open.len())?;
        }
        out.write_all(if closed.list { b"]" } else { b"}" })
    }
}

macro_rules! numbers {
    ($($write:ident: $number:ty),*) => {$(
        fn $write<W: ?Sized + Write>(&mut self, out: &mut W, value: $number) -> io::Result<()> {
            self.number(out, &value.to_string())
        }
    )*};
}

impl Formatter for ByHand {
    numbers!(write_i8: i8, write_i16: i16, write_i32: i32, write_i64: i64, write_i128: i128);
    numbers!(write_u8: u8, write_u16: u16, write_u32: u32, write_u64: u64, write_u128: u128);

    fn write_f32<W: ?Sized + Write>(&mut self, out: &mut W, value: f32) -> io::Result<()> {
        self.write_f64(out, f64::from(value))
    }

    fn write_f64<W: ?Sized + Write>(&mut self, out: &mut W, value: f64) -> io::Result<()> {
        self.number(out, &rounded(value).to_string())
    }

    fn write_number_str<W: ?Sized + Write>(&mut self, out: &mut W, value: &str) -> io::Result<()> {
        self.number(out, value)
    }

    fn write_null<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.number(out, "null")
    }

    fn write_bool<W: ?Sized + Write>(&mut self, out: &mut W, value: bool) -> io::Result<()> {
        self.number(out, if value { "true" } else { "false" })
    }

    fn begin_string<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.place(out, true)?;
        out.write_all(b"\"")
    }

    fn begin_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.opens(out, true)
    }

    fn end_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.closes(out)
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, _: &mut W, _: bool) -> io::Result<()> {
        self.item = true;
        Ok(())
    }

    fn begin_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.opens(out, false)
    }

    fn end_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.closes(out)
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, out: &mut W, _: bool) -> io::Result<()> {
        let (depth, flat) = (self.open.len(), self.flat());
        let Some(object) = self.open.last_mut() else {
            return Ok(());
        };
        object.items += 1;
        if object.items > 1 {
            out.write_all(b",")?;
        }
        match flat {
            false => self.new_line(out, depth),
            true if self.open.last().is_some_and(|object| object.items > 1) => out.write_all(b" "),
            true => Ok(()),
        }
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        out.write_all(b": ")
    }
}

/// To four decimals. Larger numbers have fewer decimals than that to begin with.
pub(super) fn rounded(value: f64) -> f64 {
    let scaled = (value * 1e4).round() / 1e4;
    if scaled.is_finite() { scaled + 0.0 } else { value }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Serialize;
    use serde_json::json;

    fn laid_out(value: &serde_json::Value) -> String {
        let mut bytes = Vec::new();
        let mut writer = serde_json::Serializer::with_formatter(&mut bytes, ByHand::default());
        value.serialize(&mut writer).unwrap();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn numbers_stand_ten_to_a_row_and_items_one_to_a_line() {
        let beats: Vec<f64> = (0..12).map(|b| f64::from(b) * 0.50004).collect();
        let value = json!({
            "a": beats, "b": [{"beat": 3, "label": "verse"}, {"beat": 9, "label": "x\n"}], "c": [],
            "d": {}, "e": {"f": null, "g": true}, "h": [[1, 2], [3]], "i": [{"t": [1, 2]}],
        });
        let text = laid_out(&value);
        assert_eq!(
            text,
            "{\n  \"a\": [\n    0, 0.5, 1.0001, 1.5001, 2.0002, 2.5002, 3.0002, 3.5003, 4.0003, 4.5004,\n    \
             5.0004, 5.5004\n  ],\n  \"b\": [\n    {\"beat\": 3, \"label\": \"verse\"},\n    \
             {\"beat\": 9, \"label\": \"x\\n\"}\n  ],\n  \"c\": [],\n  \"d\": {},\n  \"e\": {\n    \
             \"f\": null,\n    \"g\": true\n  },\n  \"h\": [\n    [\n      1, 2\n    ],\n    [\n      3\n    ]\n  ],\n  \
             \"i\": [\n    {\"t\": [1, 2]}\n  ]\n}"
        );
        let again: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert_eq!(again["b"], value["b"]);
    }

    #[test]
    fn rounding_twice_is_rounding_once() {
        for value in [0.00005, 1.23455, -0.00001, 7_199.999_949, 1e300, f64::NAN] {
            let once = rounded(value);
            assert!(rounded(once) == once || value.is_nan());
        }
        assert_eq!(rounded(-0.00001).to_string(), "0");
    }
}
