// Package dashboards serves the pages a finisher reads at night: Tonight, what
// each room's air allows and when each coat is ready, and Room, how the air got
// there. It renders on the server, so that a page reads without JavaScript, and
// keeps an open page current through server-sent events. It holds no state and
// starts no goroutine of its own; what it shows comes through small interfaces.
package dashboards
