// The chart library, which a page loads before the script that uses it.
type Plot = import("uplot");
type PlotAxis = import("uplot").Axis;
type PlotSeries = import("uplot").Series;
type PlotRange = import("uplot").Range.Function;
type PanelPlot = Plot & { kind: PanelKind };
type PlotLine = [label: string, style: string, column: Column];
type TimeForm = Intl.DateTimeFormatOptions;

interface Window {
  uPlot?: typeof import("uplot");
}
