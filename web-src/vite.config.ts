import { defineConfig } from "vite";

// Names without a digest: a rebuild changes the files that changed, and nothing else. The server sends an ETag with each.
export default defineConfig({
  base: "./",
  build: {
    outDir: "../src/boostwright/web/static",
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: "es2022",
    rollupOptions: {
      output: {
        entryFileNames: "assets/app.js",
        chunkFileNames: "assets/[name].js",
        assetFileNames: "assets/[name][extname]",
      },
    },
  },
});
