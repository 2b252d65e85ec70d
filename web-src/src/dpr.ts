// Canvases are drawn at twice the size at least, so that a printed page stays sharp. Must load before uPlot.
const real = window.devicePixelRatio;
if (real < 2) Object.defineProperty(window, "devicePixelRatio", { get: () => 2, configurable: true });
export {};
