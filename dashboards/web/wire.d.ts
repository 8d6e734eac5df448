// What the server sends to the scripts: the shapes of its JSON documents, as Go
// declares them in api.go, history.go and tap.go. Units end a key; what is null
// was not measured, or cannot be told.

type PanelKind = "temperature" | "alerts" | "humidity" | "wood" | "pace";
type Column = (number | null)[];

/** GET /api/rooms/{id}/history */
interface RoomHistory {
  temperature_unit: "°C" | "°F"; // of the page; the values are in °C
  clock_12h: boolean;
  zone_offset_s: number;
  from_unix_s: number;
  to_unix_s: number;
  at_unix_s: number[];
  air_c: Column;
  dew_point_c: Column;
  rh_pct: Column;
  wood_emc_pct: Column;
  surfaces: { label: string; surface_c: Column }[];
  paces: { product: string; pace: Column }[];
  limits: { air_min_c: number; air_max_c: number; rh_max_pct?: number; dew_margin_min_c: number };
  near_dew_point_unix_s: [number, number][];
  done: { at_unix_s: number; mark: string; text: string; touch_test: boolean }[]; // a mark is empty outside from and to
  alerts: ToldAlert[];
}

/** An alert of a room's history; its end is its beginning where it is told once. */
interface ToldAlert {
  from_unix_s: number;
  to_unix_s: number | null; // null: it stands
  mark: string; // empty outside from and to
  title: string;
  severity: "info" | "warning" | "critical";
  row: number;
}

/** A point of a room's dew margin: measured, or projected with its range. */
interface DewMarginPoint {
  at: string;
  dew_margin_c: number | null;
  low_c?: number;
  high_c?: number;
  projected: boolean;
}

interface CoatStage {
  stage: string;
  ready_at: string | null;
  low_at: string | null;
  high_at: string | null;
}

interface CoatNow {
  piece: string;
  part: string;
  applied_at: string;
  next_stage?: string;
  stages: CoatStage[];
}

/** One of GET /api/rooms, as far as the scripts read it. */
interface RoomNow {
  room: string;
  dew_margin_limit_c: number;
  dew_margin: DewMarginPoint[];
  coats: CoatNow[];
}

/** What comes of a tap: an address to go to, words with ways on, or why not. */
interface TapAnswer {
  to?: string;
  said?: string;
  undo?: string;
  more?: string;
  refused?: string;
}

/** A tap that waits in the browser's storage. */
interface Tap {
  id: string;
  made: string;
  to: string;
  body: string;
}

/** What a push brings. */
interface PushedAlert {
  title: string;
  body: string;
  episode: string;
  severity?: string;
}
