// Told again is a member of the Notifications API (WHATWG) that not every browser
// has, and that TypeScript leaves out for that; one without it passes over it.
interface NotificationOptions {
  renotify?: boolean;
}
