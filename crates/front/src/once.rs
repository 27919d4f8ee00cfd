//! What is told once for each call.

use fifthpeg_vocab::CallId;

/// Of which call it was told last.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct OncePerCall(Option<CallId>);

impl OncePerCall {
    /// Whether what `holds` of this call is to be told now: not again of one call.
    pub fn is_news(&mut self, call: CallId, holds: bool) -> bool {
        let news = holds && self.0 != Some(call);
        if news {
            self.0 = Some(call);
        }
        news
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_told_once_for_each_call_and_only_while_it_holds() {
        let mut once = OncePerCall::default();
        let seen = [(1, false), (1, true), (1, true), (2, false), (2, true)];
        let told = seen.map(|(call, holds)| once.is_news(CallId(call), holds));
        assert_eq!(told, [false, true, false, false, true]);
    }
}
