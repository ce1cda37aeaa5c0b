//! Words in markup.

use std::fmt::{self, Write};

/// Words that stand in a page as they are written, whatever signs are in them: between tags and in quoted
/// attributes alike.
#[derive(Debug, Clone, Copy)]
pub struct Text<'a>(pub &'a str);

impl fmt::Display for Text<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for sign in self.0.chars() {
            match sign {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                _ => f.write_char(sign)?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_sign_of_markup_is_left() {
        assert_eq!(
            Text("<b title=\"x\">Ellen & Bram's</b> Größe").to_string(),
            "&lt;b title=&quot;x&quot;&gt;Ellen &amp; Bram&#39;s&lt;/b&gt; Größe"
        );
    }
}
