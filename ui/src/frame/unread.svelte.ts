/** Cautions that end below what can be seen. Nobody says of what lies under the key that it was read. */

/** Room for a fraction of a pixel. */
const PIXEL = 2;

/** The first caution of the card that ends below the upper edge of its stub; none without a stub. */
export function unread(stub: () => HTMLElement | undefined): { readonly caution: HTMLElement | undefined } {
  let caution: HTMLElement | undefined = $state.raw();

  $effect(() => {
    const key = stub();
    const card = key?.closest<HTMLElement>('.do');
    if (!key || !card) {
      caution = undefined;
      return;
    }
    const look = () => {
      const edge = key.getBoundingClientRect().top + PIXEL;
      const all = [...card.querySelectorAll<HTMLElement>('[data-caution]')];
      caution = all.find((one) => one.getBoundingClientRect().bottom > edge);
    };
    look();
    // The page scrolls, or the card within it; letters grow; what stands above comes and goes.
    const sizes = typeof ResizeObserver === 'function' ? new ResizeObserver(look) : null;
    sizes?.observe(card);
    const words = new MutationObserver(look);
    words.observe(card, { childList: true, subtree: true, characterData: true });
    addEventListener('scroll', look, { capture: true, passive: true });
    addEventListener('resize', look);
    return () => {
      sizes?.disconnect();
      words.disconnect();
      removeEventListener('scroll', look, { capture: true });
      removeEventListener('resize', look);
    };
  });

  return {
    get caution() {
      return caution;
    },
  };
}
