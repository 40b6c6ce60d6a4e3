/** The part of plotly's own bundle (served at /vendor/plotly.min.js) that the desk calls. */
interface PlotlyElement extends HTMLElement {
  on(event: string, handler: (data: unknown) => void): void;
  layout: { xaxis: { range: [number | string, number | string] } };
}

interface PlotlyBundle {
  react(host: HTMLElement, traces: object[], layout: object, config: object): Promise<PlotlyElement>;
  relayout(host: HTMLElement, update: object): Promise<PlotlyElement>;
}

interface Window { Plotly?: PlotlyBundle }
