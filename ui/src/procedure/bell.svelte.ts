/**
 * A courtesy: while the page is out of sight the device says that the time of a wait is over, and to look. It says
 * nothing else, and what it says decides nothing.
 */
class Bell {
  /** `no`: this device cannot, or the person said no. */
  may: 'ask' | 'yes' | 'no' = $state('no');

  constructor() {
    this.#look();
  }

  #look() {
    const can = typeof Notification === 'undefined' ? 'denied' : Notification.permission;
    this.may = can === 'granted' ? 'yes' : can === 'default' ? 'ask' : 'no';
  }

  async ask() {
    await Notification.requestPermission();
    this.#look();
  }

  /** Says it where nobody looks at the page; who looks sees it. */
  ring(title: string, words: string) {
    if (this.may === 'yes' && document.hidden) new Notification(title, { body: words, tag: 'evenwire-wait' });
  }
}

export const bell = new Bell();
