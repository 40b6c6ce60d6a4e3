/** The part of D3 (version 5, served at /vendor/d3.min.js) that the desk calls. */
interface D3Scale {
  (value: number): number;
  domain(ends: [number, number]): D3Scale;
  range(ends: [number, number]): D3Scale;
  ticks(count: number): (number | Date)[];
}

interface D3Axis {
  (group: D3Selection): void;
  ticks(count: number): D3Axis;
  tickSize(pixels: number): D3Axis;
  tickSizeInner(pixels: number): D3Axis;
  tickSizeOuter(pixels: number): D3Axis;
  tickPadding(pixels: number): D3Axis;
  tickFormat(format: (value: any) => string): D3Axis;
}

interface D3Selection { call(axis: D3Axis): D3Selection }

/** Draws one point for each datum into the context; one that is not defined breaks the line. */
interface D3Shape {
  (data: ArrayLike<unknown>): void;
  x(of: (datum: any, position: number) => number): D3Shape;
  y(of: (datum: any, position: number) => number): D3Shape;
  y0(of: (datum: any, position: number) => number): D3Shape;
  y1(of: (datum: any, position: number) => number): D3Shape;
  defined(is: (datum: any, position: number) => boolean): D3Shape;
  curve(kind: unknown): D3Shape;
  context(context: CanvasRenderingContext2D): D3Shape;
}

interface D3 {
  scaleLinear(): D3Scale;
  scaleUtc(): D3Scale;
  axisLeft(scale: D3Scale): D3Axis;
  axisBottom(scale: D3Scale): D3Axis;
  line(): D3Shape;
  area(): D3Shape;
  curveStepAfter: unknown;
  utcFormat(pattern: string): (date: Date) => string;
  select(node: Element): D3Selection;
}

interface Window { d3?: D3 }
