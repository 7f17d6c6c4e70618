import { Channel, invoke } from '@tauri-apps/api/core';
import { readable } from 'svelte/store';
import type { Ask } from '../generated/Ask';
import type { Pushed } from '../generated/Pushed';
import type { Reply } from '../generated/Reply';
import { Unanswered, type Backend } from './backend';

/** The program is the window's own: calls into the same process. */
export function tauri(): Backend {
  return {
    link: readable('up'),
    async ask(ask: Ask): Promise<Reply> {
      try {
        return await invoke<Reply>('tell', { ask });
      } catch (cause) {
        throw new Unanswered('lost', cause);
      }
    },
    watch(listener) {
      let wanted = true;
      const channel = new Channel<Pushed>();
      channel.onmessage = (pushed) => {
        if (wanted) listener(pushed);
      };
      void invoke('watch', { channel });
      return () => {
        wanted = false;
      };
    },
  };
}
