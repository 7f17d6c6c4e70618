//! The shop says what stands at the head of its reports.

use super::{Output, Session};
use crate::job::{LogoWish, Refusal};
use crate::record::{Event, Shop};
use crate::unit::Now;

impl Session {
    /// Nothing is written where nothing changes.
    pub(super) fn describe_shop(
        &mut self,
        shop: Shop,
        logo: LogoWish,
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        let logo = match logo {
            LogoWish::Keep => self.shop.logo.clone(),
            LogoWish::Change => shop.logo.clone(),
        };
        let shop = Shop { logo, ..shop }.tidy();
        if let Some(field) = shop.too_long() {
            return Err(Refusal::TooLong { field: field.into() });
        }
        if shop != self.shop {
            self.record(vec![Event::ShopDescribed { shop }], now, outputs);
        }
        Ok(())
    }
}
