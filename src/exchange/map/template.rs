//! Templates: text with `{column}` in it, and `[…]` around what may drop out.

/// A piece of a template.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::exchange) enum Slice<'t> {
    Text(&'t str),
    Column(&'t str),
    /// Drops out when a column in it is blank.
    Optional(Vec<Slice<'t>>),
}

/// Takes a template apart.
///
/// # Errors
/// When brackets do not pair.
pub(in crate::exchange) fn template(text: &str) -> Result<Vec<Slice<'_>>, String> {
    let unpaired = || "[ and ] do not pair".to_string();
    let mut out = Vec::new();
    let mut rest = text;
    while let Some((before, behind)) = rest.split_once('[') {
        let (inner, after) = behind.split_once(']').ok_or_else(unpaired)?;
        if inner.contains('[') || before.contains(']') {
            return Err(unpaired());
        }
        out.extend(slices(before)?);
        out.push(Slice::Optional(slices(inner)?));
        rest = after;
    }
    if rest.contains(']') {
        return Err(unpaired());
    }
    out.extend(slices(rest)?);
    Ok(out)
}

/// Text with `{column}` in it.
fn slices(text: &str) -> Result<Vec<Slice<'_>>, String> {
    let mut out = Vec::new();
    let mut rest = text;
    while let Some((before, behind)) = rest.split_once('{') {
        let (name, after) = behind
            .split_once('}')
            .ok_or_else(|| "a { is not closed".to_string())?;
        out.extend([Slice::Text(before), Slice::Column(name)]);
        rest = after;
    }
    out.push(Slice::Text(rest));
    Ok(out)
}
