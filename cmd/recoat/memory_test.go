package main

import (
	"os"
	"path/filepath"
	"testing"
)

func TestTheCeilingIsTheLeastOfTheGroupAndThoseAbove(t *testing.T) {
	for name, c := range map[string]struct {
		files map[string]string
		want  uint64
		found bool
	}{
		"its own": {map[string]string{
			"proc/self/cgroup": "0::/system.slice/recoat.service\n",
			"sys/fs/cgroup/system.slice/recoat.service/memory.max":  "134217728\n",
			"sys/fs/cgroup/system.slice/recoat.service/memory.high": "max\n",
		}, 128 << 20, true},
		"one above": {map[string]string{
			"proc/self/cgroup": "1:name=systemd:/x\n0::/system.slice/recoat.service\n",
			"sys/fs/cgroup/system.slice/recoat.service/memory.max": "134217728\n",
			"sys/fs/cgroup/system.slice/memory.high":               "67108864\n",
		}, 64 << 20, true},
		"none":          {map[string]string{"proc/self/cgroup": "0::/\n", "sys/fs/cgroup/memory.max": "max\n"}, 0, false},
		"the old kind":  {map[string]string{"proc/self/cgroup": "4:memory:/recoat\n"}, 0, false},
		"another world": {nil, 0, false},
	} {
		root := t.TempDir()
		for file, text := range c.files {
			path := filepath.Join(root, file)
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		got, found := ceiling(root)
		if found != c.found || found && got != c.want {
			t.Errorf("%s: %d, %t; want %d, %t", name, got, found, c.want, c.found)
		}
	}
}
