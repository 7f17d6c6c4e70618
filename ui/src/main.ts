import { mount } from 'svelte';
import App from './App.svelte';
import { backend } from './backend';
import type { Backend } from './backend/backend';
import './style/base.css';
import './style/tokens.css';
import { speech } from './words/speech.svelte';

/** In development a page address with `?fixture=…` shows a made-up bench; no such code is built for use. */
async function chosen(): Promise<Backend> {
  if (import.meta.env.DEV) {
    const asked = new URLSearchParams(location.search);
    const name = asked.get('fixture');
    if (name !== null) return (await import('./backend/fixture')).fixture(name, asked);
  }
  return backend();
}

async function begin() {
  // Until the first view comes, the browser's language; then the view decides.
  speech.language = navigator.language.startsWith('de') ? 'de' : 'en';
  const target = document.getElementById('app');
  if (target) mount(App, { target, props: { backend: await chosen() } });
}

void begin();
