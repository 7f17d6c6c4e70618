/** What a person set on this device for the page itself. Nothing of it concerns a job. */

export const themes = ['light', 'dark', 'contrast'] as const;
export type Theme = (typeof themes)[number];

function kept(key: string): string | null {
  try {
    return localStorage.getItem(key);
  } catch {
    return null;
  }
}

function keep(key: string, value: string) {
  try {
    localStorage.setItem(key, value);
  } catch {
    // A page that may store nothing still works; the choice lasts until it is closed.
  }
}

function firstTheme(): Theme {
  const before = kept('theme');
  if (before && (themes as readonly string[]).includes(before)) return before as Theme;
  const wants = (query: string) => typeof matchMedia === 'function' && matchMedia(query).matches;
  if (wants('(prefers-contrast: more)')) return 'contrast';
  return wants('(prefers-color-scheme: dark)') ? 'dark' : 'light';
}

class Settings {
  theme: Theme = $state(firstTheme());
  sounds: boolean = $state(kept('sounds') !== 'off');

  nextTheme() {
    const index = themes.indexOf(this.theme);
    this.theme = themes[(index + 1) % themes.length] ?? 'light';
    keep('theme', this.theme);
  }

  turnSounds() {
    this.sounds = !this.sounds;
    keep('sounds', this.sounds ? 'on' : 'off');
  }
}

export const settings = new Settings();
