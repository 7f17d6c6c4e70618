import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

export default defineConfig(({ mode }) => ({
  // The page is loaded from the shell's own scheme and from a loopback address: no absolute paths.
  base: './',
  plugins: [svelte()],
  // Under test the browser build of Svelte is wanted, not the one for servers.
  resolve: mode === 'test' ? { conditions: ['browser'] } : {},
  // The icon lies beside the page's folder.
  server: { fs: { allow: ['..'] } },
  build: { target: 'es2022', rollupOptions: { input: { app: 'index.html', office: 'office.html' } } },
  test: {
    environment: 'jsdom',
    include: ['tests/**/*.test.ts', 'src/**/*.test.ts'],
    setupFiles: ['tests/setup.ts'],
    // A machine that builds beside it may take its time; what hangs is still found.
    testTimeout: 30_000,
    // A test reads the colours from the style sheet itself.
    css: true,
  },
}));
