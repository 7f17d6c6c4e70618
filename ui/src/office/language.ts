import type { Language } from '../generated/Language';
import { speech } from '../words/speech.svelte';

/** The language chosen here before; else the browser's. */
export function keptLanguage(): Language {
  try {
    const kept = localStorage.getItem('office-language');
    if (kept === 'en' || kept === 'de') return kept;
  } catch {
    // A page that may store nothing asks the browser each time.
  }
  return navigator.language.startsWith('de') ? 'de' : 'en';
}

export function turnLanguage() {
  speech.language = speech.language === 'en' ? 'de' : 'en';
  try {
    localStorage.setItem('office-language', speech.language);
  } catch {
    // It lasts until the page is closed.
  }
}
