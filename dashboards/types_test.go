package dashboards

import (
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// compiler is TypeScript (Apache-2.0), which checks the types that the scripts'
// comments declare. It comes from the registry for the tests alone.
const compiler = "web/node_modules/typescript/bin/tsc"

// checkTypes runs the compiler in web and returns what it says.
func checkTypes(t *testing.T, project string) (string, error) {
	t.Helper()
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("no node on PATH: the scripts' types are not checked")
	}
	if _, err := os.Stat(compiler); errors.Is(err, fs.ErrNotExist) {
		t.Skip("TypeScript is not installed: make test fetches it")
	}
	out, err := exec.CommandContext(t.Context(), node, compiler, "--pretty", "false", "--listFiles", "-p", project).CombinedOutput()
	return string(out), err
}

// Every script keeps to its types, as strictly as the compiler can be asked.
func TestScriptsAreTyped(t *testing.T) {
	var seen strings.Builder
	for _, project := range []string{"web/tsconfig.json", "web/tsconfig.worker.json"} {
		out, err := checkTypes(t, project)
		seen.WriteString(out)
		if err != nil {
			t.Errorf("%s: %v\n%s", project, err, out)
		}
	}
	scripts, err := filepath.Glob("assets/*.js")
	if err != nil || len(scripts) == 0 {
		t.Fatalf("no script was found: %v", err)
	}
	for _, script := range scripts {
		if !strings.Contains(seen.String(), "/"+filepath.ToSlash(script)+"\n") {
			t.Errorf("%s was not looked at", script)
		}
		body, err := os.ReadFile(script)
		if err != nil {
			t.Fatal(err)
		}
		for _, way := range []string{"{any}", "@ts-ignore", "@ts-nocheck", "@ts-expect-error"} {
			if strings.Contains(string(body), way) {
				t.Errorf("%s goes round the types with %s", script, way)
			}
		}
	}
}

// The check finds what is wrong: a key that the server does not send, and an
// element that may not be there.
func TestTheCheckOfTypesBites(t *testing.T) {
	script := filepath.Join(t.TempDir(), "wrong.js")
	wrong := "/** @param {RoomNow} r */\nconst f = (r) => r.humidity;\ndocument.getElementById(\"x\").hidden = true;\n"
	if err := os.WriteFile(script, []byte(wrong), 0o600); err != nil {
		t.Fatal(err)
	}
	base, err := filepath.Abs("web")
	if err != nil {
		t.Fatal(err)
	}
	project := filepath.Join(filepath.Dir(script), "tsconfig.json")
	config := `{"extends": "` + filepath.ToSlash(base) + `/tsconfig.json", "include": ["wrong.js", "` + filepath.ToSlash(base) + `/wire.d.ts"], "exclude": []}`
	if err := os.WriteFile(project, []byte(config), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := checkTypes(t, project)
	if err == nil || !strings.Contains(out, "TS2339") || !strings.Contains(out, "TS2531") {
		t.Errorf("%v: it finds only %s", err, out)
	}
}
