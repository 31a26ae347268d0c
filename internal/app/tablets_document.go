package app

// TabletsView is what the laptop shows of serving tablets.
type TabletsView struct {
	Possible    bool          `json:"possible" doc:"False where this window cannot serve: why says it."`
	Why         string        `json:"why,omitempty"`
	Serving     bool          `json:"serving"`
	Name        string        `json:"name" doc:"Stable name of this laptop in its nets, such as brinefield-k3f7.local."`
	NameState   string        `json:"name_state" enum:"off,looking,found,taken" doc:"Whether the name is answered for by multicast DNS."`
	Port        int           `json:"port"`
	Addresses   []string      `json:"addresses" doc:"Where tablets reach it: https addresses, the name first."`
	LeftOut     []string      `json:"left_out" doc:"Addresses of this machine that are not served, because they are public."`
	Words       []string      `json:"words" doc:"Fingerprint of the authority as ten words."`
	Fingerprint string        `json:"fingerprint" doc:"Its SHA-256, as devices show it."`
	Ends        string        `json:"ends" doc:"Until when the authority is good."`
	Installing  string        `json:"installing,omitempty" doc:"Plain http address of the page that installs the authority, while it is open."`
	InstallEnds string        `json:"install_ends,omitempty"`
	Code        *PairingCode  `json:"code,omitempty"`
	Devices     []TabletView  `json:"devices"`
	Audit       []TabletEvent `json:"audit" doc:"Newest first, at most 500."`
	Problem     string        `json:"problem,omitempty"`
}

// PairingCode lets one device in.
type PairingCode struct {
	Code  string `json:"code"`
	Ends  string `json:"ends" doc:"RFC 3339."`
	Study string `json:"study"`
	Role  string `json:"role"`
}

// TabletView is a device that was paired.
type TabletView struct {
	Device  string            `json:"device"`
	Name    string            `json:"name"`
	Writes  []string          `json:"writes" doc:"Names under which it writes entries."`
	Roles   map[string]string `json:"roles" doc:"By the study's folder; of studies that are not here, by identity."`
	Paired  string            `json:"paired"`
	Seen    string            `json:"seen"`
	Ends    string            `json:"ends" doc:"Until when its token is good."`
	Revoked string            `json:"revoked,omitempty"`
}

// TabletEvent is one line of the list of what happened.
type TabletEvent struct {
	When    string `json:"when"`
	Text    string `json:"text" doc:"One sentence."`
	Device  string `json:"device"`
	Refused bool   `json:"refused"`
}

// TabletsRequest is a wish about serving tablets.
type TabletsRequest struct {
	Serve   *bool  `json:"serve,omitempty" doc:"Begin or end serving."`
	Install *bool  `json:"install,omitempty" doc:"Open or close the page that installs the authority."`
	Author  string `json:"author,omitempty"`
}

// PairingRequest asks for a code.
type PairingRequest struct {
	Study  string `json:"study" doc:"Its folder."`
	Role   string `json:"role" enum:"lead,operator,scorer,guest"`
	Author string `json:"author,omitempty"`
}

// TabletRoleRequest gives a device a role, takes it away ("") or revokes it.
type TabletRoleRequest struct {
	Device string `json:"device"`
	Study  string `json:"study,omitempty"`
	Role   string `json:"role,omitempty" enum:"lead,operator,scorer,guest,"`
	Revoke bool   `json:"revoke,omitempty"`
	Author string `json:"author,omitempty"`
}

// PairRequest is what a tablet brings to be let in.
type PairRequest struct {
	Code string   `json:"code" maxLength:"40"`
	Name string   `json:"name" maxLength:"60" doc:"What people call the tablet."`
	Was  []string `json:"was,omitempty" maxItems:"20" doc:"Names under which it wrote entries before: it goes on as those."`
}

// TabletSelf is what a tablet may know of itself.
type TabletSelf struct {
	Paired  bool          `json:"paired"`
	Laptop  string        `json:"laptop" doc:"Name of the laptop."`
	Words   []string      `json:"words" doc:"Fingerprint of its authority."`
	Device  string        `json:"device,omitempty" doc:"The name under which it writes entries."`
	Name    string        `json:"name,omitempty"`
	Ends    string        `json:"ends,omitempty" doc:"Until when its token is good."`
	Studies []TabletStudy `json:"studies"`
	NowMS   int64         `json:"now_ms"`
}

// TabletStudy is a study in which the tablet has a role.
type TabletStudy struct {
	Study    string `json:"study"`
	Identity string `json:"identity"`
	Title    string `json:"title"`
	Role     string `json:"role"`
}
