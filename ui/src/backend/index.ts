import type { Backend } from './backend';
import { SocketBackend, socketAddress } from './socket';
import { tauri } from './tauri';

/** The window's own program where there is one, else the one that served the page. */
export function backend(): Backend {
  return '__TAURI_INTERNALS__' in window ? tauri() : new SocketBackend(socketAddress(window.location));
}
