package hub

import (
	"testing"
	"testing/synctest"
	"time"

	"recoat/internal/telemetry"
)

func TestANodesConnectionShowsInItsRoom(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.minutes(5, 1, 20, 50)
		node := b.room("back-room").Nodes[0].Node
		b.hub.Report(telemetry.Report{Room: "back-room", Node: node})
		b.hub.Report(telemetry.Report{Room: "cellar", Node: node}) // no such room
		synctest.Wait()
		if n := b.room("back-room").Nodes[0]; !n.Away {
			t.Errorf("%+v", n)
		}
		time.Sleep(90 * time.Second)
		synctest.Wait()
		if n := b.room("back-room").Nodes[0]; !n.Silent {
			t.Errorf("after a minute and a half: %+v", n)
		}
	})
}
