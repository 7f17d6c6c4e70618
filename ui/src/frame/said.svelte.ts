import type { Notice } from '../generated/Notice';

/** The sentence that stands near the key until the next success. */
class Said {
  kind: 'refused' | 'failed' = $state('refused');
  notice: Notice | null = $state.raw(null);

  say(kind: 'refused' | 'failed', notice: Notice) {
    this.kind = kind;
    this.notice = notice;
  }

  hush() {
    this.notice = null;
  }

  /** The person turned to something else: a refusal does not concern it. That something failed still holds. */
  moveOn() {
    if (this.kind === 'refused') this.notice = null;
  }
}

export const said = new Said();
